"""Being asked to stop in the middle of long work: by Ctrl-C, by the system, by a terminal that closes."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from reelnotes.picture.film import Progress

#: What ends a program at once if nothing is done about it, where the system knows it.
Handler = Callable[[int, FrameType | None], Any] | int | None
_ENDING = ("SIGINT", "SIGTERM", "SIGHUP")


@contextmanager
def heeding(report: Progress | None = None) -> Iterator[Progress]:
    """Let the block end as by Ctrl-C, with `KeyboardInterrupt`, whatever way it is asked to end.

    So what was half written is cleared away. The library swallows some interruptions that come while it
    raises an error of its own; therefore they are noted, and whoever reports progress hears of them again:
    give `report`, and report to what is yielded. Signals that somebody else minds stay with them.
    """
    asked = threading.Event()

    def stop(_number: int, _frame: FrameType | None) -> None:
        asked.set()
        raise KeyboardInterrupt

    def told(share: float) -> None:
        if asked.is_set():
            raise KeyboardInterrupt
        if report is not None:
            report(share)

    before = _minded(stop)
    try:
        yield told
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _minded(stop: Callable[[int, FrameType | None], None]) -> dict[int, Handler]:
    """Mind the signals nobody minds yet; give what they did before."""
    if threading.current_thread() is not threading.main_thread():
        return {}
    usual = (signal.SIG_DFL, signal.default_int_handler)
    found: dict[int, Handler] = {}
    for number in (getattr(signal, name) for name in _ENDING if hasattr(signal, name)):
        handler = signal.getsignal(number)
        if handler in usual:
            found[number] = handler
            signal.signal(number, stop)
    return found
