"""Long work on a terminal: a bar that grows, and the time left. In a pipe no bar is printed."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

_WIDTH = 32
_CLEAR = "\r\x1b[K"
#: Before so much is done after so long, nothing can be said of the time left.
_TOLD_AFTER_S, _TOLD_FROM = 1.5, 0.02
_AGAIN_S = 1.0


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[float], None]]:
    """Give what is to be told the share that is done, 0 to 1; the bar goes when the work is over."""
    if not sys.stderr.isatty():
        yield lambda _share: None
        return
    shown, drawn_at, began = -1, 0.0, time.monotonic()

    def report(share: float) -> None:
        nonlocal shown, drawn_at
        share, now = min(max(share, 0.0), 1.0), time.monotonic()
        percent = int(100 * share)
        if percent == shown and now - drawn_at < _AGAIN_S:
            return
        shown, drawn_at = percent, now
        done = "█" * (_WIDTH * percent // 100)
        left = _left(share, now - began)
        sys.stderr.write(f"{_CLEAR}{label}  {done:·<{_WIDTH}}  {percent:3d} %{left}")
        sys.stderr.flush()

    try:
        report(0)
        yield report
    finally:
        sys.stderr.write(_CLEAR)
        sys.stderr.flush()


def _left(share: float, gone_s: float) -> str:
    """Say how long it still takes, once that can be told."""
    if share < _TOLD_FROM or gone_s < _TOLD_AFTER_S or share >= 1:
        return ""
    from reelnotes.timing import format_time

    return f"  {format_time(round(1000 * gone_s * (1 - share) / share) + 999)} left"


def tell(sentence: str) -> None:
    """Say something on standard error, on a line of its own, also while a bar is drawn there."""
    clear = _CLEAR if sys.stderr.isatty() else ""
    print(f"{clear}{sentence}", file=sys.stderr, flush=True)
