"""Time and memory of the matcher against size, on made-up episodes of random trade words.

Each size runs in a process of its own, so that its peak of memory is its own; the CPU seconds are of the
second of two runs, without start-up. `make bench` shows the table.
"""

from __future__ import annotations

import os
import random
import resource
import subprocess
import sys
import time
from datetime import date, timedelta
from datetime import time as clock

from reelnotes.align.matcher import align
from reelnotes.model import Cue, Entry
from reelnotes.words.lexicon import load_lexicon

SIZES = ((10, 100), (40, 400), (100, 1000), (200, 2500), (400, 5000))
FILLER = ("the", "a", "so", "and", "then", "it", "was", "on", "that", "this", "bit", "of", "we", "just")
A_DAY, CUE_MS = 20, 4000


def episode(entries: int, cues: int) -> tuple[tuple[Entry, ...], tuple[Cue, ...]]:
    """Make up a log of trade words and a speech that echoes one word in nine of it, in order."""
    chance = random.Random(entries)  # noqa: S311 - no secret
    words = sorted(load_lexicon().known)
    log = tuple(
        Entry(
            i,
            " ".join(chance.choices(words, k=7)),
            i + 1,
            date(2026, 1, 1) + timedelta(i // A_DAY),
            clock(8 + i % A_DAY // 2),
        )
        for i in range(entries)
    )
    speech = []
    for j in range(cues):
        echo = log[min(entries - 1, j * entries // cues)].text.split()
        said = chance.choices(FILLER, k=5) + chance.choices(echo) + chance.choices(words, k=3)
        chance.shuffle(said)
        speech.append(Cue(j * CUE_MS, (j + 1) * CUE_MS, " ".join(said), j + 1))
    return log, tuple(speech)


def measured(entries: int, cues: int) -> str:
    """Align such an episode twice; give CPU seconds of the second run and the peak of memory."""
    log, speech = episode(entries, cues)
    lexicon = load_lexicon()
    align(log, speech, lexicon)
    before = time.process_time()
    align(log, speech, lexicon)
    cpu_s = time.process_time() - before
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return f"{entries:8} {cues:8} {cpu_s:9.3f} {peak_mb:9.0f}"


def report_growth() -> None:
    """Print the table of all sizes."""
    print(f"{'entries':>8} {'cues':>8} {'CPU s':>9} {'peak MB':>9}")
    for entries, cues in SIZES:
        command = [sys.executable, __file__, str(entries), str(cues)]
        one_thread = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
        run = subprocess.run(command, capture_output=True, text=True, check=True, env=one_thread)
        print(run.stdout.rstrip())


if __name__ == "__main__":
    if len(sys.argv) > 2:  # noqa: PLR2004 - a size of its own
        print(measured(int(sys.argv[1]), int(sys.argv[2])))
    else:
        report_growth()
