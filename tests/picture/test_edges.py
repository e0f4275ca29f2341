"""Sound that begins before the first picture or ends behind the last one, and cuts that take these out."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from reelnotes.model import HeldFrame
from reelnotes.picture.film import Film
from reelnotes.picture.headers import put_track_times
from reelnotes.picture.splice import take_out
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio

#: Within a frame of sound of AAC.
FRAME_S = Fraction(1024, 48_000)


def short_picture(film: Film) -> None:
    """End the picture after 4 of 5 seconds."""
    for track in film.tracks_of(b"vide"):
        assert track.samples is not None
        track.samples = track.samples.rows(slice(0, 100))
        track.lasts, track.edited = Fraction(4), True
        put_track_times(film, track)


def late_picture(film: Film) -> None:
    """Show the picture half a second after the sound has begun."""
    for track in film.tracks_of(b"vide"):
        track.delay, track.edited = Fraction(1, 2), True
        put_track_times(film, track)


def late_sound(film: Film) -> None:
    """Let the sound begin half a second after the picture."""
    for track in film.tracks_of(b"soun"):
        track.delay, track.edited = Fraction(1, 2), True
        put_track_times(film, track)


def heard_until(studio: Studio, film: Path) -> Fraction:
    """Give when the last packet of sound ends."""
    return studio.look(film).packets["audio-1"][-1][0] + FRAME_S


def sound_of(studio: Studio, film: Path) -> dict[str, Fraction]:
    """Give when each packet of sound is heard, by its hash."""
    return {digest: pts for pts, _, digest in studio.look(film).packets["audio-1"]}


def test_a_cut_at_the_tail_takes_the_sound_behind_the_last_picture(studio: Studio, target: Path) -> None:
    """Pictures end at 4 s, sound at 5 s: without all after 3.5 s nothing is heard after 3.5 s."""
    source = studio.edit(studio.make(), "short-picture", short_picture)
    assert heard_until(studio, source) > Fraction(49, 10)
    take_out(source, [Span(3500, 6000)], [], target)
    assert studio.look(target).times[-1] == Fraction(348, 100)
    assert heard_until(studio, target) == pytest.approx(3.52, abs=0.03)


def test_a_cut_before_the_tail_leaves_the_sound_behind_the_last_picture(studio: Studio, target: Path) -> None:
    """Just inside the limit: a span that ends with the last picture takes that out and nothing more."""
    source = studio.edit(studio.make(), "short-picture", short_picture)
    take_out(source, [Span(3500, 4000)], [], target)
    assert heard_until(studio, target) == pytest.approx(
        heard_until(studio, source) - Fraction(48, 100), abs=0.03
    )


def test_a_cut_at_the_head_takes_the_sound_before_the_first_picture(studio: Studio, target: Path) -> None:
    """The picture begins at 0.5 s, the sound at 0: without the first second all stands a second earlier."""
    source = studio.edit(studio.make(), "late-picture", late_picture)
    take_out(source, [Span(0, 1000)], [], target)
    before, after = studio.look(source), studio.look(target)
    assert before.times[0] == Fraction(1, 2)
    assert after.times[0] == 0
    assert [studio.number_in(p) for p in after.pictures] == list(range(13, 125))
    cut = Fraction(102, 100)  # pictures stand at 0.98 and 1.02 s: the second is the first that stays
    old, new = sound_of(studio, source), sound_of(studio, target)
    shifts = {old[digest] - at for digest, at in new.items() if digest in old}
    assert all(abs(shift - cut) < FRAME_S for shift in shifts)


def test_a_hold_at_the_head_moves_late_sound_by_its_length(studio: Studio, target: Path) -> None:
    """Sound begins at 0.5 s, the first second is out, a picture is held for 0.8 s: one silence, not two."""
    source = studio.edit(studio.make(), "late-sound", late_sound)
    take_out(source, [Span(0, 1000)], [HeldFrame(0, 800)], target)
    old, new = sound_of(studio, source), sound_of(studio, target)
    # the very first packet is decoded and not heard
    shifts = {old[digest] - at for digest, at in new.items() if digest in old and at >= 0}
    assert shifts
    assert all(abs(shift - Fraction(2, 10)) < FRAME_S for shift in shifts)


@pytest.mark.parametrize("edit", [short_picture, late_picture])
def test_the_whole_film_coded_anew_is_cut_alike(
    studio: Studio, tmp_path: Path, edit: Callable[[Film], None]
) -> None:
    """Plain sound cannot be cut in frames, so all is coded anew: the edges go as they do elsewhere."""
    source = studio.edit(studio.make(sound="pcm_s16le", suffix=".mov"), edit.__name__, edit)
    made = tmp_path / "new.mov"
    done = take_out(source, [Span(0, 1000), Span(3500, 6000)], [HeldFrame(0, 800)], made)
    assert done.reason is not None
    after = studio.look(made)
    assert after.times[0] == 0
    assert after.times[-1] == pytest.approx(3.25, abs=0.06)
    assert heard_until(studio, made) == pytest.approx(after.times[-1] + Fraction(1, 25), abs=0.05)
