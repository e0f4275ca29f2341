"""Work done ahead on a thread of its own: pictures are decoded while those before them are encoded."""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator, Iterator
from typing import TypeVar

from reelnotes.picture.refusals import Stuck

T = TypeVar("T")

#: So many pictures may wait; each is some megabytes.
_DEPTH = 6
#: A side that hears nothing of the other for so long looks whether it is still there.
_LOOK_S = 0.2
#: Nothing decodes a single picture for so long; whoever waits longer waits for ever.
_PATIENCE_S = 120.0


class _Ended:
    """Stands behind the last piece; holds what went wrong, if anything did."""

    def __init__(self, error: BaseException | None = None) -> None:
        self.error = error


def ahead(pieces: Iterator[T], depth: int = _DEPTH) -> Generator[T, None, None]:
    """Give the pieces in order while a thread already works on the next ones.

    What goes wrong there is raised here; leaving early ends the thread. Raises `Stuck` after two minutes
    without a piece.
    """
    line: queue.Queue[T | _Ended] = queue.Queue(depth)
    left = threading.Event()
    worker = threading.Thread(target=_work, args=(pieces, line, left), daemon=True)
    worker.start()
    try:
        while not isinstance(piece := _next(line), _Ended):
            yield piece
        if piece.error is not None:
            raise piece.error
    finally:
        left.set()
        worker.join(_PATIENCE_S)


def _next(line: queue.Queue[T | _Ended]) -> T | _Ended:
    try:
        return line.get(timeout=_PATIENCE_S)
    except queue.Empty:
        raise Stuck from None


def _work(pieces: Iterator[T], line: queue.Queue[T | _Ended], left: threading.Event) -> None:
    ended = _Ended()
    try:
        for piece in pieces:
            if not _put(line, piece, left):
                break
    except BaseException as error:  # noqa: BLE001 - it is raised on the other side
        ended = _Ended(error)
    close = getattr(pieces, "close", None)
    if close is not None:
        close()
    _put(line, ended, left)


def _put(line: queue.Queue[T | _Ended], piece: T | _Ended, left: threading.Event) -> bool:
    """Put a piece in line; False if nobody waits for it any more."""
    while not left.is_set():
        try:
            line.put(piece, timeout=_LOOK_S)
        except queue.Full:
            continue
        return True
    return False
