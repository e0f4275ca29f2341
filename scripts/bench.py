"""What the work costs: ratios of paired runs in one sitting, never a bare time.

Each pair runs the two commands one after the other in the same minute; the ratio is of CPU seconds (user
and system), and the median of all pairs is printed with its spread.
"""

from __future__ import annotations

import compileall
import os
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from matcher_growth import report_growth

ROOT = Path(__file__).resolve().parents[1]
PAIRS = 9
EMPTY = """
import typer
app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)
@app.command()
def first(folder: str) -> None: ...
@app.command()
def second(folder: str) -> None: ...
app()
"""


def main() -> int:
    """Print each ratio with its claim."""
    # pip compiles what it installs; a checkout may lie uncompiled, and then each run would compile it again.
    compileall.compile_dir(ROOT / "reelnotes", quiet=1)
    episode = longest_episode()
    with tempfile.TemporaryDirectory() as scratch:
        empty = Path(scratch) / "empty.py"
        empty.write_text(EMPTY)
        base = [sys.executable, str(empty), "first", "x"]
        ours = [sys.executable, "-m", "reelnotes", "draft", str(episode), "--out", f"{scratch}/out"]
        ratios = paired(base, ours)
        report(f"draft of {episode.name} : an empty typer command, CPU (at most 3)", ratios)
        asked = [sys.executable, "-m", "reelnotes", "--help"]
        report("--help : an empty typer command, CPU (at most 1)", paired(base, asked))
    report_growth()
    return 0


def longest_episode() -> Path:
    """Find the episode with the longest transcript: labelled ones if at hand, else the demo's."""
    cases = Path(os.environ.get("REELNOTES_CASES", ROOT.parent / "shared" / "cases"))
    found = list(cases.glob("*/transcript.*")) or list(ROOT.glob("demo_project/episodes/*/transcript.*"))
    return max(found, key=lambda path: path.stat().st_size).parent


def paired(base: list[str], ours: list[str]) -> list[float]:
    """Run both commands in turn and give the ratio of each pair; the first pair only warms the disk."""
    pairs = [(cpu_seconds(base), cpu_seconds(ours)) for _ in range(PAIRS + 1)][1:]
    return [ours_s / base_s for base_s, ours_s in pairs]


def cpu_seconds(command: list[str]) -> float:
    """CPU of one run of a command with its children; the command may report problems (exit 1)."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, capture_output=True, check=False)
    if done.returncode not in (0, 1):
        raise SystemExit(f"{command}: exit {done.returncode}\n{done.stderr.decode()}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def report(claim: str, ratios: list[float]) -> None:
    """Print the median ratio and its range."""
    spread = f"from {min(ratios):.2f} to {max(ratios):.2f}, {len(ratios)} pairs"
    print(f"{claim}: {statistics.median(ratios):.2f} ({spread})")


if __name__ == "__main__":
    sys.exit(main())
