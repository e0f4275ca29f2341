"""What burning in will take, told before it begins: how many pictures are coded anew, why, and how long."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reelnotes.picture.blend import Panel
from reelnotes.picture.burn import touched
from reelnotes.picture.coding import CannotPatch, Quality, load_av
from reelnotes.picture.film import NotTables, open_film
from reelnotes.picture.probe import REASONS, pictures_of, probe
from reelnotes.picture.whole import expected_s
from reelnotes.problems import FileUnreadable
from reelnotes.records import frozen
from reelnotes.timing import format_time

#: Measuring may cost so long where parts will do, which are soon done themselves.
_MEASURE_S = 0.4
#: Bytes a second that are copied; a low guess for disks of today, ours.
_COPIED = 150_000_000


@frozen
class Foreseen:
    """What will be coded anew: `touched` of `pictures`; `reason` says why it is all of them, if it is.

    `seconds` is how long it takes on this machine, about.
    """

    touched: int
    pictures: int
    seconds: float
    reason: str | None = None

    @property
    def sentence(self) -> str:
        """Say it to the maker."""
        length = format_time(max(1000, round(self.seconds * 1000)))
        if self.reason is not None:
            return f"The whole film is coded anew, because {self.reason}; this takes about {length}."
        if self.touched == self.pictures:
            return (
                "The whole film is coded anew, because an insert touches it early and nothing that follows"
                f" can be decoded on its own; this takes about {length}."
            )
        share = 100 * self.touched / self.pictures
        return (
            f"{self.touched} of {self.pictures} pictures ({share:.1f} %) are coded anew, those that an insert"
            f" touches and what hangs on them; all else is copied as it is. This takes about {length}."
        )


def foresee(source: Path, panels: Sequence[Panel], quality: Quality | None = None) -> Foreseen:
    """Look at a video and measure shortly how fast this machine codes it.

    Raises `FileUnreadable`, `PanelUnseen`, `LibraryMissing`.
    """
    quality, av = quality or Quality(), load_av()
    try:
        with open_film(source) as film:
            pictures = pictures_of(film)
            count, total = touched(pictures, film.tracks_of(b"vide")[0], panels), len(pictures.times)
            size = film.size
        whole = expected_s(source, quality, for_s=_MEASURE_S)
        return Foreseen(count, total, whole * count / max(total, 1) + size / _COPIED)
    except (NotTables, CannotPatch) as found:
        facts = probe(source).facts
        return Foreseen(facts.frames, facts.frames, expected_s(source, quality), REASONS[found.code])
    except av.FFmpegError as error:
        raise FileUnreadable(source, f"the video stops making sense: {error.strerror}".lower()) from None
