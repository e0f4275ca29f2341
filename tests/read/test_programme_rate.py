"""The programme's frame rate, and whether its timecode drops labels (SMPTE ST 12-1)."""

from __future__ import annotations

from fractions import Fraction

import opentimelineio as otio
import pytest

from reelnotes.read.programme_rate import programme_rate
from reelnotes.store import SourceText

DROP = Fraction(30000, 1001)
EVENT = "001  AX       V     C        00:00:00{s}00 00:00:05{s}10 01:00:00{s}00 01:00:05{s}10\n"


def edl(mode: str = "", sign: str = ":") -> SourceText:
    """Give a cut list of one event."""
    return SourceText("cuts.edl", f"TITLE: A\n{mode}\n{EVENT.format(s=sign)}")


def timeline(rate: float) -> SourceText:
    """Give a timeline as another library writes it."""
    clip = otio.schema.Clip("a", source_range=otio.opentime.TimeRange(
        otio.opentime.RationalTime(0, rate), otio.opentime.RationalTime(48, rate)
    ))  # fmt: skip
    whole = otio.schema.Timeline("t")
    whole.tracks.append(otio.schema.Track("V", children=[clip]))
    whole.metadata["other"] = {"rate": 96}
    return SourceText("cuts.otio", otio.adapters.write_to_string(whole, "otio_json"))


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (None, (None, False)),
        (Fraction(25), (Fraction(25), False)),
        (DROP, (DROP, True)),
        (Fraction("29.97"), (DROP, True)),
        (Fraction(30), (Fraction(30), False)),
        (Fraction(60000, 1001), (Fraction(60000, 1001), True)),
        (Fraction(24000, 1001), (Fraction(24000, 1001), False)),
    ],
)
def test_without_a_cut_list_the_maker_decides(
    given: Fraction | None, expected: tuple[Fraction | None, bool]
) -> None:
    """Labels drop wherever drop-frame exists, because they keep to the clock then; 29.97 means 30000/1001."""
    assert programme_rate(None, given) == expected


@pytest.mark.parametrize(
    ("cuts", "given", "expected"),
    [
        (edl("FCM: DROP FRAME"), None, (DROP, True)),
        (edl(sign=";"), None, (DROP, True)),
        (edl("FCM: NON-DROP FRAME"), DROP, (DROP, False)),
        (edl(), Fraction(25), (Fraction(25), False)),
        (edl("FCM: DROP FRAME"), Fraction(25), (Fraction(25), False)),
    ],
    ids=["drop said", "drop shown", "non-drop said", "given", "drop where there is none"],
)
def test_a_cmx_3600_list_tells_whether_labels_drop(
    cuts: SourceText, given: Fraction | None, expected: tuple[Fraction, bool]
) -> None:
    """By its mode or its labels; what exists at no other rate does not drop there."""
    assert programme_rate(cuts, given) == expected


def test_a_list_without_events_leaves_it_to_the_maker() -> None:
    """As if there were none."""
    assert programme_rate(SourceText("cuts.edl", "TITLE: A\n"), DROP) == (DROP, True)


@pytest.mark.parametrize(("rate", "known"), [(24, Fraction(24)), (30000 / 1001, DROP), (25, Fraction(25))])
def test_a_timeline_carries_its_rate(rate: float, known: Fraction) -> None:
    """The times count; what stands under metadata does not."""
    assert programme_rate(timeline(rate), None)[0] == known


@pytest.mark.parametrize("text", ["{", "{}", '{"tracks": [1, null, "x"]}', "[" * 3000])
def test_a_timeline_that_tells_nothing_leaves_it_to_the_maker(text: str) -> None:
    """Broken or empty: no traceback."""
    assert programme_rate(SourceText("cuts.otio", text), Fraction(25)) == (Fraction(25), False)
