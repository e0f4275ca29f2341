"""The command line: each command parses, makes one call, prints, exits.

Exit codes: 0 clean, 1 problems found (the work was done all the same), 2 wrong use or nothing to work on.
Nothing heavy is imported here, so that `--help` is instant; commands load what they need.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys

# The matrices of an episode are small; starting a pool of threads for them costs 40 ms of CPU.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Records hold no cycles, so looking for cycles finds next to nothing and costs a fifth of a draft: 20 ms
# while it works and 60 ms at the end of the process, where what is frozen is not walked again.
COLLECT_AFTER = 400_000

#: The exit code of what was stopped by Ctrl-C: 128 and the number of the signal, as shells count.
STOPPED = 130


def main() -> None:
    """Run the command line; every refusal becomes one sentence on standard error and exit code 2."""
    gc.set_threshold(COLLECT_AFTER)
    atexit.register(gc.freeze)
    from reelnotes import __version__
    from reelnotes.cli.app import command_line
    from reelnotes.problems import Refusal

    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    if sys.argv[1:] == ["--version"]:
        # Not an option of typer's: one on the root would load pydantic before the help of any command.
        print(f"reelnotes {__version__}")
        return
    try:
        command_line(sys.argv[1] if len(sys.argv) > 1 else "")()
    except Refusal as refusal:
        print(f"reelnotes: {refusal}", file=sys.stderr)
        sys.exit(2)
    except SystemExit as left:
        if left.code == STOPPED:  # typer makes this of Ctrl-C
            print("\nreelnotes: stopped; nothing half-written was left.", file=sys.stderr)
        raise
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
