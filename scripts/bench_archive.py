"""What the archive costs at 1,000 episodes: each claim with the figure beside it.

The commands run as a maker runs them, one process each; what one costs on top of its start-up is the
difference to the same command on a workshop of one episode, in pairs.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from make_archive import make_workshop

PAIRS = 7
QUESTIONS = ("wire wool", "hide glue", "raw linseed oil on the back board", "scythe", "no such thing at all")


def main() -> int:
    """Make the workshops, ask them, print the figures."""
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--episodes", type=int, default=1000, help="how many; 1000 is what is claimed for")
    count = wanted.parse_args().episodes
    with tempfile.TemporaryDirectory() as scratch:
        one, tenth, many = (Path(scratch) / name for name in ("one", "tenth", "many"))
        for top, episodes in ((one, 1), (tenth, count // 10), (many, count)):
            make_workshop(top, episodes)
        ask(one)
        small_s, small_mb = ask(tenth)
        full_s, full_mb = ask(many)
        print(
            f"full index of {count} episodes (at most 300 s): {full_s:.0f} s, {size_mb(many):.0f} MB on disk"
        )
        print(f"time against number of episodes (flat: 1): {full_s / small_s / (count / (count // 10)):.2f}")
        print(
            f"peak memory, {count} against {count // 10} episodes (flat: 1): {full_mb / small_mb:.2f} "
            f"({full_mb:.0f} MB against {small_mb:.0f} MB)"
        )
        report("a question, on top of start-up (at most 0.1 s)", questions(one, many))
        report("one changed episode, on top of start-up (at most 0.2 s)", changes(one, many))
    return 0


def questions(one: Path, many: Path) -> list[float]:
    """Ask both workshops the same, in pairs; give the differences in seconds."""
    return [ask(many, words)[0] - ask(one, words)[0] for words in QUESTIONS for _ in range(PAIRS)]


def changes(one: Path, many: Path) -> list[float]:
    """Change an episode of the large workshop before each question; give the differences in seconds."""
    episodes = sorted((many / "episodes").iterdir())
    found = []
    for number in range(PAIRS * 2):
        log = episodes[number * len(episodes) // (PAIRS * 2)] / "shop-log.txt"
        log.write_text(f"{log.read_text('utf-8')}18:{number:02} one more coat on the lid, 25 ml\n", "utf-8")
        found.append(ask(many)[0] - ask(one)[0])
    return found


def ask(workshop: Path, words: str = "wire wool") -> tuple[float, float]:
    """Run `trace` and give its time in seconds and its peak memory in MB."""
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "reelnotes", "trace", str(workshop), words],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in {0, 1}:
        raise SystemExit(f"trace {workshop} {words}: exit {process.returncode}")
    return time.perf_counter() - begun, usage.ru_maxrss / 1024


def size_mb(workshop: Path) -> float:
    """Give the size of an archive in MB."""
    return (workshop / "archive.sqlite").stat().st_size / 1e6


def report(claim: str, seconds: list[float]) -> None:
    """Print the median and the range."""
    spread = f"from {min(seconds):.3f} to {max(seconds):.3f}, {len(seconds)} pairs"
    print(f"{claim}: {statistics.median(seconds):.3f} s ({spread})")


if __name__ == "__main__":
    sys.exit(main())
