"""Long work on a terminal: a bar that grows. In a pipe, and where nobody looks, nothing is printed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_WIDTH = 32


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[float], None]]:
    """Give what is to be told the share that is done, 0 to 1; the bar goes when the work is over."""
    if not sys.stderr.isatty():
        yield lambda _share: None
        return
    shown = -1

    def report(share: float) -> None:
        nonlocal shown
        percent = int(100 * min(max(share, 0.0), 1.0))
        if percent != shown:
            shown = percent
            done = "█" * (_WIDTH * percent // 100)
            sys.stderr.write(f"\r{label}  {done:·<{_WIDTH}}  {percent:3d} %")
            sys.stderr.flush()

    try:
        report(0)
        yield report
    finally:
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()
