"""What this room declines to do, one clear sentence each."""

from __future__ import annotations

from pathlib import Path

from reelnotes.problems import Refusal
from reelnotes.timing import format_time, typed_time


class LibraryMissing(Refusal):
    """The library that decodes and encodes pictures is not installed."""

    def __init__(self) -> None:
        super().__init__(
            "Work on the video itself needs one more library: run pip install 'reelnotes[picture]' first."
        )


class SameFile(Refusal):
    """Source and target are one file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(
            f"{path}: is the video to be read and is never overwritten; name another file with --to."
        )


class TargetForm(Refusal):
    """A target whose name promises a form that is not written."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(f"{path}: is written as .mp4, .m4v or .mov; give the file one of these endings.")


class TargetName(Refusal):
    """A target under whose name nothing can be written."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(
            f"{path}: cannot be written under this name ({reason}); name another file with --to."
        )


class PanelUnfit(Refusal):
    """A panel drawn for another size of picture."""

    def __init__(self, drawn: tuple[int, int], shown: tuple[int, int]) -> None:
        self.drawn, self.shown = drawn, shown
        super().__init__(
            f"The panel was drawn for a picture of {drawn[0]}×{drawn[1]}, the video is shown at"
            f" {shown[0]}×{shown[1]}; draw the panels for this video."
        )


class PanelUnseen(Refusal):
    """A panel whose time holds no picture of the video."""

    def __init__(self, start: str, end: str, length: str) -> None:
        super().__init__(
            f"No picture of the video stands between {start} and {end} (it is {length} long);"
            " look at the times of the insert."
        )


class Stuck(Refusal):
    """A decoder that never comes back."""

    def __init__(self) -> None:
        super().__init__("The decoder did not come back with the next picture; run the command again.")


class NothingLeft(Refusal):
    """A recut that would take out every picture."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(f"{path}: nothing of it would be left; take out less.")


class NothingToDo(Refusal):
    """A recut that names no picture of the video."""

    def __init__(self, path: Path, length: str) -> None:
        self.path = path
        super().__init__(f"{path}: the spans and holds meet no picture of it; it is {length} long.")


class PictureOdd(Refusal):
    """A picture so small, so large or so narrow that no panel can be drawn for it."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        super().__init__(
            f"No panel can be drawn for a picture of {width}×{height}: it must have at least 90 pixels each"
            " way and a shape between 9:21 and 4:1."
        )


class FontUnreadable(Refusal):
    """A font that cannot be used for panels."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(
            f"{path}: cannot be used as the font of panels ({reason}); see font under [panels] in"
            " workshop.toml."
        )


class NothingToBurn(Refusal):
    """A video to burn into, and no insert."""

    def __init__(self, path: Path) -> None:
        self.path = path
        super().__init__(
            f"{path}: there is nothing to burn in, because nothing in the ledger speaks of this episode as it"
            " stands now; no video was written."
        )


class CardBeyond(Refusal):
    """A card that would begin when the video is over."""

    def __init__(self, path: Path, record: str, length_ms: int, over_ms: int) -> None:
        self.path, self.record, self.length_ms, self.over_ms = path, record, length_ms, over_ms
        last = typed_time(max(0, (length_ms - 500) // 1000 * 1000))
        super().__init__(
            f"{path}: ends {over_ms / 1000:.1f} s before the insert of {record} can be read, so nothing was"
            f" burned in; reelnotes recut EPISODE --hold {last} --for {-(-over_ms // 1000)} gives it room."
        )


class OtherVideo(Refusal):
    """A video that ends before the words of the version that it should be of."""

    def __init__(self, path: Path, length_ms: int, version: int, last_ms: int) -> None:
        self.path, self.length_ms, self.version, self.last_ms = path, length_ms, version, last_ms
        super().__init__(
            f"{path}: is {format_time(length_ms)} long, but version {version} has words at"
            f" {format_time(last_ms)}; give the video of that version."
        )
