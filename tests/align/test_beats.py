from __future__ import annotations

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.align.beats import beats_of, with_silence
from reelnotes.model import Cue

SENTENCE = "So then I cut it back to the line, and it went on dry. "


def cue(start_s: float, end_s: float, text: str) -> Cue:
    return Cue(round(start_s * 1000), round(end_s * 1000), text, 1)


@st.composite
def transcripts(draw: st.DrawFn) -> tuple[Cue, ...]:
    words = st.lists(st.sampled_from(["leg", "and", "so", "glue.", "[Music]", "wax,", "then"]), max_size=60)
    cues, at = [], 0
    for _ in range(draw(st.integers(0, 8))):
        at += draw(st.integers(0, 3000))
        end = at + draw(st.integers(0, 30_000))
        cues.append(Cue(at, end, " ".join(draw(words)), 1))
        at = end
    return tuple(cues)


@settings(max_examples=60, deadline=None)
@given(transcripts())
def test_no_word_is_lost_and_time_runs_on(cues: tuple[Cue, ...]) -> None:
    """Beats hold every word of the cues in order, inside their cues' times; only noise marks go."""
    beats = beats_of(cues)
    said = " ".join(cue.text.replace("[Music]", " ") for cue in cues).split()
    assert " ".join(beat.text for beat in beats).split() == said
    assert all(one.start_ms <= two.start_ms for one, two in pairwise(beats))
    assert all(beat.start_ms <= beat.end_ms for beat in beats)
    assert all(cues[beat.cue].start_ms <= beat.start_ms <= cues[beat.cue].end_ms for beat in beats)


def test_a_long_paragraph_is_cut_into_breaths() -> None:
    """A paragraph of half a minute becomes beats of a few seconds, evenly over its time."""
    beats = beats_of((cue(10, 40, SENTENCE * 6),))
    assert len(beats) >= 6
    assert beats[0].start_ms == 10_000
    assert beats[-1].end_ms == 40_000
    assert max(beat.end_ms - beat.start_ms for beat in beats) < 8_000


def test_a_usual_cue_stays_whole() -> None:
    """A caption of one or two lines is one beat."""
    assert [beat.text for beat in beats_of((cue(0, 4, SENTENCE),))] == [SENTENCE.strip()]


def test_captions_word_by_word_are_joined() -> None:
    """Captions that come a word at a time are read together."""
    cues = tuple(
        cue(0.4 * k, 0.4 * k + 0.4, word)
        for k, word in enumerate(["then", "the", "lid", "went", "back", "on"])
    )
    assert len(beats_of(cues)) < 4


def test_music_alone_is_no_beat() -> None:
    """A cue that holds only noise marks tells nothing."""
    assert beats_of((cue(0, 5, "[Music]"), cue(5, 9, "♪ la la ♪"))) == ()


def test_silence_is_filled_for_footage() -> None:
    """Where nothing is said for long, wordless beats stand, up to the end of the programme."""
    beats = with_silence(beats_of((cue(9, 12, "now"), cue(13, 15, "then"))), 24_000)
    quiet = [(beat.start_ms, beat.end_ms) for beat in beats if not beat.text]
    assert quiet == [(0, 4000), (4000, 8000), (15_000, 19_000), (19_000, 23_000)]
    assert [beat.text for beat in beats if beat.text] == ["now", "then"]
