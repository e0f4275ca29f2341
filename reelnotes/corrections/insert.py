"""Where inserts stand: with the step they speak of, long enough to be read, never two at once.

A card starts with the place it speaks of, or up to a second before, and stays until it can have been read,
past a cut if need be. On long places it returns. Where two meet, the worse signal word has the place, then
the greater harm; the other moves inside its own place, else follows, else is reported. All of it is counted
in whole frames of the programme.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from reelnotes.corrections.cards import CardText, card_ms, cards_of
from reelnotes.corrections.reach import harm_rank
from reelnotes.model import Card, Correction, Insert, Place
from reelnotes.problems import Problem
from reelnotes.records import frozen
from reelnotes.settings import CaptionSettings
from reelnotes.timing import MS_PER_SECOND, Span, format_time, frames_to_ms, ms_to_frames, typed_time

#: Between two showings of one insert (BBC Subtitle Guidelines, 4.5: at least 1 s, better 1.5 s).
_GAP_MS = 1500
#: An insert that had to give way may follow so long after its place; ours.
_FOLLOWS_WITHIN_MS = 20_000
#: Standing longer than this past its place, a held frame would serve better; ours.
_LONG_PAST_MS = 7_000
_MILLISECONDS = Fraction(MS_PER_SECOND)


@frozen
class Wish:
    """An insert that is wanted: the record and the place it speaks of, in the time of the version at hand."""

    record: Correction
    span: Span


def wishes_of(
    records: Sequence[Correction], episode: str, mapped: Callable[[Place], Sequence[Span]]
) -> list[Wish]:
    """List what is wanted for one episode; `mapped` gives where a place stands now: nowhere, or some spans.

    Places of one record that meet or overlap are one wish.
    """
    wishes = []
    for record in records:
        spans = sorted(s for place in record.places if place.episode == episode for s in mapped(place))
        joined: list[Span] = []
        for span in spans:
            if joined and span.start_ms <= joined[-1].end_ms:
                joined[-1] = Span(joined[-1].start_ms, max(joined[-1].end_ms, span.end_ms))
            else:
                joined.append(span)
        wishes += [Wish(record, span) for span in joined]
    return wishes


def place_inserts(
    wishes: Sequence[Wish], settings: CaptionSettings, rate: Fraction | None, duration_ms: int
) -> tuple[tuple[Insert, ...], list[Problem]]:
    """Place the inserts of an episode, in order of time.

    `rate` is in frames a second, None where it is not known (then whole milliseconds are the grid);
    `duration_ms` is the programme's length, 0 where it is not known. What finds no place, or no time to be
    read, is reported together with the held frame that would help.
    """
    stage = _Stage(settings, rate or _MILLISECONDS, duration_ms)
    ordered = sorted(wishes, key=lambda wish: (harm_rank(wish.record), wish.span, wish.record.id))
    placed = [showing for wish in ordered if (showing := stage.first(wish))]
    for showing in placed:
        stage.returns(showing)
    return tuple(sorted(stage.inserts, key=lambda insert: insert.start_ms)), stage.problems


@frozen
class _Showing:
    """A wish in frames: its place from `first` up to and without `end`, and where its cards start."""

    wish: Wish
    cards: tuple[CardText, ...]
    first: int
    end: int
    start: int = 0
    length: int = 0


@dataclass(slots=True)
class _Stage:
    """The programme's frames, with what stands in them."""

    settings: CaptionSettings
    rate: Fraction
    duration_ms: int
    inserts: list[Insert] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    taken: list[tuple[int, int, str]] = field(default_factory=list)

    # --- frames ----------------------------------------------------------------------------------------

    def frame(self, ms: int) -> int:
        """Give the frame that is shown at a time; a time rounded from a frame gives that frame."""
        nearest = ms_to_frames(ms, self.rate)
        return nearest if frames_to_ms(nearest, self.rate) == ms else math.floor(ms * self.rate / 1000)

    def frames(self, ms: int) -> int:
        """Give how many frames last at least so long."""
        return math.ceil(ms * self.rate / 1000)

    def free(self, start: int, length: int) -> bool:
        """Tell whether nothing stands in `length` frames from `start` on."""
        return all(start + length <= first or end <= start for first, end, _ in self.taken)

    # --- placing ---------------------------------------------------------------------------------------

    def first(self, wish: Wish) -> _Showing | None:
        """Place the first showing of a wish; None where it finds no place, which is reported."""
        cards, problems = cards_of(wish.record, self.settings)
        self.problems += [p for p in problems if p not in self.problems]
        first = self.frame(wish.span.start_ms)
        end = max(first + 1, self.frame(wish.span.end_ms))
        length = self._length(cards)
        start = self._start(wish.span.start_ms, first, end, length)
        if start is None:
            self._report_placeless(wish, first, length)
            return None
        showing = _Showing(wish, cards, first, end, start, length)
        self._show(showing, start, cards, hold_ms=self._hold_ms(showing))
        return showing

    def _start(self, start_ms: int, first: int, end: int, length: int) -> int | None:
        low = max(0, self.frames(start_ms - round(self.settings.lead_s * 1000)))
        wished = max(low, min(first, end - length))
        if self.free(wished, length):
            return wished
        edges = [e for _, e, _ in self.taken] + [s - length for s, _, _ in self.taken] + [low, end - length]
        inside = [s for s in edges if low <= s <= end - length and self.free(s, length)]
        if inside:
            return min(inside, key=lambda s: (abs(s - wished), s))
        latest = end + self.frames(_FOLLOWS_WITHIN_MS)
        follows = [e for _, e, _ in self.taken if wished < e <= latest and self.free(e, length)]
        return min(follows, default=None)

    def _hold_ms(self, showing: _Showing) -> int:
        """Say how long a frame should be held so that all can be read before the programme ends."""
        record, end_ms = showing.wish.record, self._ms(showing.start + showing.length)
        over_ms = end_ms - self.duration_ms if self.duration_ms else 0
        past_ms = end_ms - showing.wish.span.end_ms
        last_second = (showing.wish.span.end_ms - 1) // MS_PER_SECOND * MS_PER_SECOND
        at_ms = max(last_second, showing.wish.span.start_ms)
        if over_ms > 0:
            message = f"the programme ends {_seconds(over_ms)} before its insert can be read"
            self._report(record, "insert-hold", message, at_ms, over_ms)
            return over_ms
        if past_ms > _LONG_PAST_MS:
            at = format_time(self._ms(showing.start))
            message = f"its insert at {at} stands {_seconds(past_ms)} past its place"
            self._report(record, "insert-hold", message, at_ms, past_ms, note=True)
        return 0

    def returns(self, showing: _Showing) -> None:
        """Let an insert return on a long place: whole where there is room, else with what to do instead."""
        again = self.frames(round(self.settings.return_after_s * 1000))
        if showing.end - showing.first <= again:
            return
        start, stop = showing.start, showing.start + showing.length
        while max(start + again, stop + self.frames(_GAP_MS)) < showing.end:
            found = self._return(showing, max(start + again, stop + self.frames(_GAP_MS)), stop)
            if found is None:
                at = format_time(showing.wish.span.start_ms)
                message = f"its insert at {at} cannot return on its long place, because others stand there"
                self.problems.append(_problem(showing.wish.record, "insert-place", message, note=True))
                return
            start, cards = found
            stop = self._show(showing, start, cards, returns=True)

    def _return(self, showing: _Showing, wished: int, stop: int) -> tuple[int, tuple[CardText, ...]] | None:
        """Find where an insert returns: whole if it fits its place, else a reminder that ends with it."""
        reminder = tuple(card for card in showing.cards if card.part == showing.cards[-1].part)
        for cards in (showing.cards, reminder):
            length = self._length(cards)
            earliest = max(stop + self.frames(_GAP_MS), min(wished, showing.end - length))
            start = self._next_free(earliest if cards is reminder else wished, length)
            if start + length <= showing.end or (cards is reminder and start < showing.end):
                return start, cards
        return None

    def _length(self, cards: Sequence[CardText]) -> int:
        return sum(self.frames(card_ms(card, self.settings)) for card in cards)

    def _next_free(self, start: int, length: int) -> int:
        later = sorted(end for _, end, _ in self.taken if end > start)
        return next(at for at in (start, *later) if self.free(at, length))

    def _show(
        self,
        showing: _Showing,
        start: int,
        cards: Sequence[CardText],
        *,
        returns: bool = False,
        hold_ms: int = 0,
    ) -> int:
        record, at, shown = showing.wish.record, start, []
        signal = None if record.kind == "disclosure" else record.signal
        for card in cards:
            end = at + self.frames(card_ms(card, self.settings))
            shown.append(Card(card.lines, signal, self._ms(at), self._ms(end), record.id, card.part))
            at = end
        self.taken.append((start, at, record.id))
        span = showing.wish.span
        self.inserts.append(
            Insert(record.id, record.kind, signal, span, tuple(shown), returns=returns, hold_ms=hold_ms)
        )
        return at

    def _ms(self, frame: int) -> int:
        return frames_to_ms(frame, self.rate)

    # --- reporting -------------------------------------------------------------------------------------

    def _report_placeless(self, wish: Wish, first: int, length: int) -> None:
        there = min(self.taken, key=lambda t: abs(t[0] - first))
        at = format_time(wish.span.start_ms)
        message = f"its insert at {at} found no place: {there[2]} stands there until"
        message += f" {format_time(self._ms(there[1]))}"
        self._report(wish.record, "insert-place", message, wish.span.start_ms, self._ms(length))

    def _report(
        self, record: Correction, code: str, message: str, at_ms: int, for_ms: int, *, note: bool = False
    ) -> None:
        hold = f"reelnotes recut EPISODE --hold {typed_time(at_ms)} --for {math.ceil(for_ms / 1000)}"
        self.problems.append(_problem(record, code, f"{message}; {hold} gives it room", note=note))


def _problem(record: Correction, code: str, message: str, *, note: bool) -> Problem:
    return Problem(code, f"{record.id}: {message}", severity="note" if note else "warning")


def _seconds(ms: int) -> str:
    return f"{ms / 1000:.1f} s"
