"""Caption tracks with the inserts in them, and tracks of the inserts alone: SubRip, WebVTT, IMSC 1.1 Text.

No insert hides what is said. WebVTT and IMSC put it at the top of the picture and leave the bottom to speech;
SubRip knows no places, so an insert stands above the words in one and the same caption, for as long as the
two meet.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from reelnotes.model import Card, Insert
from reelnotes.records import frozen
from reelnotes.write.caption_file import Caption, CaptionFile, srt_text, vtt_text
from reelnotes.write.imsc import Shown, imsc_text
from reelnotes.write.plain import one_line, referenced

#: The names of all tracks.
TRACKS = tuple(f"{name}.{form}" for name in ("captions", "inserts") for form in ("srt", "vtt", "ttml"))
#: Shorter than what one word takes (BBC Subtitle Guidelines, 4.1: about 0.3 s), nothing can be read.
_SHORTEST_MS = 300
_TOP, _BOTTOM = "line:0", "line:-1"
_HALF = 50
#: Rows from the top that count as its half; a picture holds about 15 (CEA-608, from memory).
_TOP_ROWS = 7
_REGION = re.compile(r"REGION\s(.*)", re.DOTALL)
_PLACED = re.compile(r"\{\\an?\d+\}")


def insert_tracks(spoken: CaptionFile, inserts: Sequence[Insert]) -> dict[str, str]:
    """Give the tracks by file name: `captions` hold speech and inserts, `inserts` these alone."""
    return {
        "captions.srt": srt_text(merged_captions(spoken.spoken_in("srt"), cards_of(inserts))),
        "captions.vtt": vtt_text(_vtt_parts(spoken, inserts)),
        "captions.ttml": imsc_text([*_speech(spoken), *_shown(inserts)]),
        "inserts.srt": srt_text(_srt_insert(card) for card in cards_of(inserts)),
        "inserts.vtt": vtt_text(_named(inserts, _TOP)),
        "inserts.ttml": imsc_text(_shown(inserts)),
    }


def cards_of(inserts: Iterable[Insert]) -> list[Card]:
    """Give all cards in order of time."""
    return sorted((card for one in inserts for card in one.cards), key=lambda card: card.start_ms)


def card_lines(card: Card) -> tuple[str, ...]:
    """Give the lines of a card, the signal word on a line of its own above them."""
    lines = tuple(line for line in map(one_line, card.lines) if line)
    return (card.signal, *lines) if card.signal else lines


# --- WebVTT ------------------------------------------------------------------------------------------


def _vtt_parts(spoken: CaptionFile, inserts: Sequence[Insert]) -> list[Caption | str]:
    """Put inserts at the top, but at the bottom while something spoken stands at the top."""
    captions = spoken.spoken_in("vtt")
    parts: list[Caption | str] = list(spoken.parts if spoken.form == "vtt" else captions)
    regions = _top_regions(part for part in parts if isinstance(part, str))
    high = [c for c in captions if _is_high(c, regions)]
    return [
        *parts,
        *(
            replace(caption, settings=_BOTTOM) if any(_meet(caption, other) for other in high) else caption
            for caption in _named(inserts, _TOP)
        ),
    ]


def _named(inserts: Iterable[Insert], settings: str) -> Iterator[Caption]:
    number = 0
    for insert in sorted(inserts, key=lambda insert: insert.start_ms):
        for card in insert.cards:
            number += 1
            signal = f"<b>{card.signal}</b>" if card.signal else ""
            lines = tuple(referenced(line) for line in map(one_line, card.lines) if line)
            name = f"insert-{number}-{one_line(card.of)}"
            yield Caption(card.start_ms, card.end_ms, (signal, *lines) if signal else lines, name, settings)


def _top_regions(blocks: Iterable[str]) -> set[str]:
    """Name the regions that a WebVTT file anchors in the upper half of the picture."""
    top = set()
    for block in blocks:
        if match := _REGION.match(block):
            members = dict(word.split(":", 1) for word in match[1].split() if ":" in word)
            anchor = members.get("viewportanchor", "0%,100%").partition(",")[2].rstrip("%")
            if _number(anchor) < _HALF:
                top.add(members.get("id", ""))
    return top


def _is_high(caption: Caption, top_regions: set[str]) -> bool:
    """Tell whether a caption's settings put it in the upper half of the picture."""
    members = dict(word.split(":", 1) for word in caption.settings.split() if ":" in word)
    line = members.get("line", "").partition(",")[0]
    if line.endswith("%"):
        return _number(line[:-1]) < _HALF
    if line:
        return 0 <= _number(line) <= _TOP_ROWS
    return members.get("region", "-") in top_regions


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 100.0


def _meet(a: Caption, b: Caption) -> bool:
    return a.start_ms < b.end_ms and b.start_ms < a.end_ms


# --- SubRip ------------------------------------------------------------------------------------------


def _srt_insert(card: Card) -> Caption:
    """Write a card in brackets, which tell it from speech."""
    lines = card_lines(card) or ("",)
    lines = (f"[{lines[0]}", *lines[1:])
    return Caption(card.start_ms, card.end_ms, (*lines[:-1], f"{lines[-1]}]"))


def merged_captions(captions: Sequence[Caption], cards: Sequence[Card]) -> list[Caption]:
    """Merge inserts into captions in time: nothing that comes out overlaps what it did not overlap before.

    Where a card meets speech, one caption holds both, the card above. A rest shorter than 0.3 s, in which
    nothing can be read, goes to the caption beside it, best to one with the same speech.
    """
    inserts = [_srt_insert(card) for card in cards]
    met = [c for c in captions if any(_meet(c, insert) for insert in inserts)]
    edges = sorted({edge for c in (*met, *inserts) for edge in (c.start_ms, c.end_ms)})
    pieces = [
        _Piece(start, end, tuple(c for c in (*inserts, *met) if c.start_ms <= start and end <= c.end_ms))
        for start, end in pairwise(edges)
    ]
    joined = _without_rests([piece for piece in pieces if piece.held], frozenset(inserts))
    apart = [c for c in captions if c not in met]
    return sorted([*apart, *(_together(piece, frozenset(inserts)) for piece in joined)], key=_start)


def _start(caption: Caption) -> int:
    return caption.start_ms


@frozen
class _Piece:
    """A stretch of time in which the same captions stand: inserts first."""

    start_ms: int
    end_ms: int
    held: tuple[Caption, ...]

    @property
    def is_rest(self) -> bool:
        return self.end_ms - self.start_ms < _SHORTEST_MS


def _without_rests(pieces: list[_Piece], inserts: frozenset[Caption]) -> list[_Piece]:
    """Give each rest to a neighbour, the shortest first; none that holds the whole of something said."""
    left = list(pieces)
    while True:
        rests = sorted(
            (n for n, piece in enumerate(left) if piece.is_rest),
            key=lambda n: left[n].end_ms - left[n].start_ms,
        )
        taken = next(((n, m) for n in rests if (m := _taker(left, n, inserts)) is not None), None)
        if taken is None:
            return left
        low, high = sorted(taken)
        left[low : high + 1] = [_Piece(left[low].start_ms, left[high].end_ms, left[taken[1]].held)]


def _taker(pieces: Sequence[_Piece], n: int, inserts: frozenset[Caption]) -> int | None:
    """Give the neighbour that takes over a rest; None where it would hide what is said only there."""
    rest = pieces[n]
    elsewhere = {caption for m, piece in enumerate(pieces) if m != n for caption in piece.held}
    if not elsewhere.issuperset(set(rest.held) - inserts):
        return None
    beside = [
        m
        for m in (n - 1, n + 1)
        if 0 <= m < len(pieces)
        and (pieces[m].end_ms == rest.start_ms or rest.end_ms == pieces[m].start_ms)
        and not set(pieces[m].held).isdisjoint(rest.held)
    ]
    return max(beside, key=lambda m: len(set(pieces[m].held) & set(rest.held) - inserts), default=None)


def _together(piece: _Piece, inserts: frozenset[Caption]) -> Caption:
    """Write what stands together as one caption."""
    mixed = not inserts.isdisjoint(piece.held) and not inserts.issuperset(piece.held)
    lines = tuple(line for caption in piece.held for line in caption.lines)
    if mixed:
        # A tag that places the words at the top would take the insert there too.
        lines = tuple(_PLACED.sub("", line) for line in lines)
    return Caption(piece.start_ms, piece.end_ms, lines, settings="" if mixed else piece.held[0].settings)


# --- IMSC --------------------------------------------------------------------------------------------


def _speech(spoken: CaptionFile) -> Iterator[Shown]:
    for caption in spoken.spoken_in(None):
        yield Shown(caption.start_ms, caption.end_ms, caption.lines, "speech")


def _shown(inserts: Iterable[Insert]) -> Iterator[Shown]:
    for card in cards_of(inserts):
        lines = tuple(line for line in map(one_line, card.lines) if line)
        yield Shown(card.start_ms, card.end_ms, lines, "insert", card.signal or "")
