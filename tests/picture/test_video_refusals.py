"""What cannot be patched is said with its reason; what cannot be done at all is refused in one sentence."""

from __future__ import annotations

import shutil
import struct
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from reelnotes.model import HeldFrame
from reelnotes.picture.avc import Bits, read_avcc, unsigned_code
from reelnotes.picture.blend import Panel
from reelnotes.picture.boxes import Box, children
from reelnotes.picture.burn import burn_in
from reelnotes.picture.film import Film, Track, entry_boxes, with_entry_box
from reelnotes.picture.probe import REASONS, probe
from reelnotes.picture.refusals import LibraryMissing, PanelUnfit, PanelUnseen, SameFile, TargetForm
from reelnotes.picture.splice import take_out
from reelnotes.problems import DiskFull, FileUnreadable, FolderUnwritable
from reelnotes.timing import Span

if TYPE_CHECKING:
    from tests.picture.conftest import Studio


def video(film: Film) -> Track:
    """Give the track of pictures."""
    return film.tracks_of(b"vide")[0]


def put_entry(film: Film, entry: Box) -> None:
    """Replace the sample description of the pictures."""
    video(film).tables.put(Box(b"stsd", bytes(7) + b"\1" + entry.packed()))


def put_avcc(film: Film, change: Callable[[bytes], bytes]) -> None:
    """Change the decoder's configuration."""
    entry = video(film).entries[0]
    avcc = next(box for box in entry_boxes(entry) if box.kind == b"avcC")
    put_entry(film, with_entry_box(entry, Box(b"avcC", change(avcc.body))))


def other_codec(film: Film) -> None:
    """Call the pictures by another name."""
    put_entry(film, Box(b"avc3", video(film).entries[0].body))


def encrypted(film: Film) -> None:
    """Call the pictures encrypted."""
    put_entry(film, Box(b"encv", video(film).entries[0].body))


def two_descriptions(film: Film) -> None:
    """Describe the pictures twice."""
    entry = video(film).entries[0].packed()
    video(film).tables.put(Box(b"stsd", bytes(7) + b"\2" + entry + entry))


def crossing(film: Film) -> None:
    """Show the last picture before the second group after the group's first."""
    rows = video(film).samples
    assert rows is not None
    start = int(np.flatnonzero(rows.sync)[1])
    rows.shift[start - 1] = rows.shown_at[start] + 10 - rows.decode_at[start - 1]


def same_times(film: Film) -> None:
    """Show two pictures at once."""
    rows = video(film).samples
    assert rows is not None
    rows.shift[4] = rows.shown_at[3] - rows.decode_at[4]


def swapped_times(film: Film) -> None:
    """Show two pictures in another order than the decoder gives them."""
    rows = video(film).samples
    assert rows is not None
    first, second = int(rows.shown_at[59]), int(rows.shown_at[60])
    rows.shift[59], rows.shift[60] = second - rows.decode_at[59], first - rows.decode_at[60]


def late_first(film: Film) -> None:
    """Begin with a picture that hangs on another."""
    rows = video(film).samples
    assert rows is not None
    video(film).samples = rows.rows(slice(1, None))


def two_edits(film: Film) -> None:
    """Show the film in two parts."""
    part = struct.pack(">Iihh", 1000, 0, 1, 0) + struct.pack(">Iihh", 1000, 20_000, 1, 0)
    video(film).box.put(Box(b"edts", b"", [Box(b"elst", bytes(7) + b"\2" + part)]))


def faster(film: Film) -> None:
    """Show the film at twice its speed."""
    row = struct.pack(">Iihh", 2000, 0, 2, 0)
    video(film).box.put(Box(b"edts", b"", [Box(b"elst", bytes(7) + b"\1" + row)]))


def elsewhere(film: Film) -> None:
    """Say that the pictures lie in another file."""
    dref = video(film).box.first(b"mdia", b"minf", b"dinf", b"dref")
    assert dref is not None
    dref.body = dref.body[:8] + Box(b"url ", bytes(4) + b"other.mp4\0").packed()


def slanted(film: Film) -> None:
    """Turn the picture by 45 degrees."""
    head = video(film).box.first(b"tkhd")
    assert head is not None
    half = 46341
    matrix = struct.pack(">9i", half, half, 0, -half, half, 0, 0, 0, 1 << 30)
    head.body = head.body[:40] + matrix + head.body[76:]


def two_byte_lengths(film: Film) -> None:
    """Say that the units of a picture are told in two bytes."""
    put_avcc(film, lambda raw: raw[:4] + b"\xfd" + raw[5:])


def extended(film: Film) -> None:
    """Say that the pictures follow the extended profile."""

    def change(raw: bytes) -> bytes:
        avcc = read_avcc(raw)
        sps = avcc.sps[0][:1] + b"\x58" + avcc.sps[0][2:]
        return raw.replace(avcc.sps[0], sps)

    put_avcc(film, change)


def all_numbers_taken(film: Film) -> None:
    """Give every number of a parameter set to somebody."""

    def change(raw: bytes) -> bytes:
        avcc = read_avcc(raw)
        rest = Bits(avcc.pps[0][1:])
        rest.unsigned()
        more = []
        for number in range(1, 32):
            text = unsigned_code(number) + rest.text[rest.at :].rstrip("0")
            text += "0" * (-len(text) % 8)
            more.append(avcc.pps[0][:1] + int(text, 2).to_bytes(len(text) // 8))
        return type(avcc)(avcc.head, avcc.sps, (*avcc.pps, *more), avcc.tail).packed()

    put_avcc(film, change)


PLAIN: dict[str, Any] = {}
STRAIGHT: dict[str, Any] = {"coding": "keyint=50:min-keyint=50:scenecut=0:bframes=0"}
#: How each reason is brought about: a film of a kind, and what is changed in it.
CAUSES: list[tuple[str, dict[str, Any], Callable[[Film], None] | None]] = [
    ("codec", PLAIN, other_codec),
    ("codec", {"codec": "libx265", "coding": "log-level=none", "sound": None}, None),
    ("cropped", {"coding": "crop-rect=4,0,0,0"}, None),
    ("crossing", PLAIN, crossing),
    ("descriptions", PLAIN, two_descriptions),
    ("edits", PLAIN, two_edits),
    ("edits", PLAIN, faster),
    ("first", PLAIN, late_first),
    ("form", {"suffix": ".mkv"}, None),
    ("fragments", {"muxing": (("movflags", "frag_keyframe"),)}, None),
    ("interlaced", {"coding": "tff=1", "options": (("flags", "+ilme+ildct"),)}, None),
    ("nal-length", PLAIN, two_byte_lengths),
    ("pixels", {"pixels": "gray"}, None),
    ("profile", {"options": (("profile", "main"),)}, extended),
    ("rotation", PLAIN, slanted),
    ("times", PLAIN, same_times),
]


@pytest.mark.parametrize(
    ("code", "kind", "change"), CAUSES, ids=[f"{c[0]}-{n}" for n, c in enumerate(CAUSES)]
)
def test_each_reason_is_told_before_work_begins(
    studio: Studio, code: str, kind: dict[str, Any], change: Callable[[Film], None] | None
) -> None:
    """A film whose parts cannot be coded anew on their own says why when it is looked at."""
    source = studio.make(**kind)
    if change is not None:
        assert probe(source).reason is None
        source = studio.edit(source, change.__name__, change)
    assert probe(source).reason == REASONS[code]


def test_reasons_found_on_the_way_lead_to_the_whole_film(studio: Studio, target: Path) -> None:
    """Numbers all taken, times that the decoder denies: the maker is told, all of the film is coded."""
    for code, change in (("patched-often", all_numbers_taken), ("order", swapped_times)):
        source = studio.edit(studio.make(**STRAIGHT), change.__name__, change)
        told: list[str] = []
        done = burn_in(source, [studio.panel(source, 1600, 3000)], target, tell=told.append)
        assert done.reason == REASONS[code]
        assert len(told) == 1
        assert REASONS[code] in told[0]
        assert "takes about 0:" in told[0]


def test_sound_that_cannot_be_cut_in_frames_is_coded_anew(studio: Studio, tmp_path: Path) -> None:
    """Plain sound and MP3 are no frames to leave out; other frames can be left out, but have no silence."""
    plain, mp3 = studio.make(sound="pcm_s16le", suffix=".mov"), studio.make(sound="mp3")
    assert take_out(plain, [Span(1600, 3000)], [], tmp_path / "a.mov").reason == REASONS["sound"]
    assert take_out(mp3, [Span(1600, 3000)], [], tmp_path / "b.mp4").reason == REASONS["sound"]
    other = studio.make(sound="ac3")
    assert take_out(other, [Span(1600, 3000)], [], tmp_path / "c.mp4").reason is None
    assert take_out(other, [], [HeldFrame(1600, 500)], tmp_path / "d.mp4").reason == REASONS["silence"]


def test_two_pictures_are_one_too_many(studio: Studio, tmp_path: Path) -> None:
    """A film with two tracks of pictures is not patched."""
    import av

    path = tmp_path / "two.mp4"
    with av.open(str(path), "w") as made:
        streams = [made.add_stream("libx264", rate=25) for _ in range(2)]
        for stream in streams:
            stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p"
        for stream in streams:
            for number in range(5):
                frame = av.VideoFrame(64, 64, "yuv420p")
                frame.pts, frame.time_base = number, Fraction(1, 25)
                made.mux(stream.encode(frame))
            made.mux(stream.encode(None))
    assert probe(path).reason == REASONS["tracks"]


def test_every_reason_has_a_cause() -> None:
    """No reason stands in the list that no test brings about."""
    told = {code for code, _, _ in CAUSES} | {"order", "patched-often", "silence", "sound", "tracks"}
    assert told == set(REASONS)


@pytest.mark.parametrize(
    ("change", "words"),
    [(encrypted, "it is encrypted"), (elsewhere, "its sound or picture lies in another file")],
)
def test_what_nobody_can_decode_is_refused(
    studio: Studio, target: Path, change: Callable[[Film], None], words: str
) -> None:
    """Coding the whole film anew would not help either."""
    source = studio.edit(studio.make(), change.__name__, change)
    with pytest.raises(FileUnreadable, match=words):
        take_out(source, [Span(0, 1000)], [], target)


# --- refusals ----------------------------------------------------------------------------------------------


def test_the_source_is_never_written(studio: Studio, tmp_path: Path) -> None:
    """Under its own name, by another road, or through a link: one file is one file."""
    source = tmp_path / "film.mp4"
    shutil.copy(studio.make(), source)
    before = source.read_bytes()
    (tmp_path / "link.mp4").symlink_to(source)
    (tmp_path / "hard.mp4").hardlink_to(source)
    panel = studio.panel(source, 1600, 3000)
    for same in (
        source,
        tmp_path / "." / ".." / tmp_path.name / "film.mp4",
        tmp_path / "link.mp4",
        tmp_path / "hard.mp4",
    ):
        with pytest.raises(SameFile, match="never overwritten"):
            burn_in(source, [panel], same)
        with pytest.raises(SameFile):
            take_out(source, [Span(0, 1000)], [], same)
    assert source.read_bytes() == before


def test_a_panel_drawn_for_another_size_is_refused(studio: Studio, target: Path) -> None:
    """The sentence names both sizes; the panel's own size is right for its own film."""
    panel = Panel(np.full((10, 10, 4), 255, np.uint8), 1600, 3000, (1920, 1080))
    with pytest.raises(PanelUnfit, match="1920×1080, the video is shown at 320×180"):
        burn_in(studio.make(), [panel], target)
    with pytest.raises(PanelUnfit):
        burn_in(studio.make(suffix=".mkv"), [panel], target)
    assert not target.exists()


def test_a_panel_behind_the_end_is_refused(studio: Studio, target: Path) -> None:
    """The last picture stands at 4.96 s: a panel from there is seen, one from 5 s is not."""
    source = studio.make()
    assert burn_in(source, [studio.panel(source, 4960, 9000)], target).coded > 0
    for film in (source, studio.make(suffix=".mkv")):
        with pytest.raises(PanelUnseen, match="No picture of the video stands between 0:05 and 0:09"):
            burn_in(film, [studio.panel(source, 5000, 9000)], target)


@pytest.mark.parametrize("fade_ms", [299, 0])
def test_a_panel_that_flashes_cannot_be_made(fade_ms: int) -> None:
    """It fades over at least 0.3 s."""
    picture = np.zeros((4, 4, 4), np.uint8)
    Panel(picture, 0, 1000, (320, 180), fade_ms=300)
    with pytest.raises(ValueError, match="at least 300 ms"):
        Panel(picture, 0, 1000, (320, 180), fade_ms=fade_ms)


@pytest.mark.parametrize("suffix", [".avi", ".mkv", ""])
def test_other_endings_are_refused(studio: Studio, tmp_path: Path, suffix: str) -> None:
    """What is written is MP4 or MOV, so the name must say so."""
    source = studio.make()
    with pytest.raises(TargetForm, match="one of these endings"):
        burn_in(source, [studio.panel(source, 1600, 3000)], tmp_path / f"new{suffix}")


def test_unreadable_input_gives_one_sentence(studio: Studio, tmp_path: Path) -> None:
    """Missing, a folder, empty, no film, cut short, without contents, damaged inside."""
    whole = studio.make().read_bytes()
    moov = whole.index(b"moov")
    files = {
        "missing": None,
        "empty": b"",
        "words": b"this is no film at all, only words",
        "short": whole[: len(whole) // 2],
        "unfinished": whole[: moov - 4],
        "bad tables": whole.replace(b"stsz", b"stsX"),
        "bad counts": whole.replace(b"stts\0\0\0\0\0\0\0\1", b"stts\0\0\0\0\0\0\0\2"),
    }
    for name, raw in files.items():
        path = tmp_path / f"{name}.mp4"
        if raw is not None:
            path.write_bytes(raw)
        with pytest.raises(FileUnreadable) as refused:
            burn_in(path, [Panel(np.zeros((4, 4, 4), np.uint8), 0, 1000, (320, 180))], tmp_path / "new.mp4")
        assert str(refused.value).startswith(f"{path}: cannot be read (")
        assert str(refused.value).count("\n") == 0
    (tmp_path / "folder.mp4").mkdir()
    with pytest.raises(FileUnreadable, match="it is a folder"):
        take_out(tmp_path / "folder.mp4", [Span(0, 1000)], [], tmp_path / "new.mp4")
    assert not (tmp_path / "new.mp4").exists()


def test_a_damaged_picture_is_named_by_its_time(studio: Studio, tmp_path: Path) -> None:
    """Damage in a run that has to be decoded is told; the same damage elsewhere is copied as it is."""
    source = studio.make(coding="keyint=25:min-keyint=25:scenecut=0:bframes=0")
    raw = bytearray(source.read_bytes())
    from reelnotes.picture.film import open_film

    with open_film(source) as film:
        rows = video(film).samples
        assert rows is not None
        at, size = int(rows.offset[27]), int(rows.size[27])
    raw[at + 5 : at + size] = bytes(255 - b for b in raw[at + 5 : at + size])
    damaged = tmp_path / "damaged.mp4"
    damaged.write_bytes(raw)
    with pytest.raises(FileUnreadable, match=r"near 0:01 are damaged|picture at 0:01 is damaged"):
        burn_in(damaged, [studio.panel(source, 1200, 1800)], tmp_path / "new.mp4")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["damaged.mp4"]
    assert burn_in(damaged, [studio.panel(source, 3200, 3900)], tmp_path / "new.mp4").reason is None


@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_interruption_leaves_no_half_file(studio: Studio, tmp_path: Path, suffix: str) -> None:
    """Stopped in the middle, by whatever: nothing lies in the folder, and an older target is as it was."""
    source = studio.make(suffix=suffix)
    target = tmp_path / "new.mp4"
    target.write_bytes(b"older")

    def stop(share: float) -> None:
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        burn_in(source, [studio.panel(source, 1600, 3000)], target, stop)
    with pytest.raises(KeyboardInterrupt):
        take_out(source, [Span(1600, 3000)], [], target, stop)
    assert [p.name for p in tmp_path.iterdir()] == ["new.mp4"]
    assert target.read_bytes() == b"older"


def test_a_full_disk_is_told_before_work_begins(
    studio: Studio, target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The room needed is compared with what is free; the sentence gives both."""
    source = studio.make()
    usage = shutil.disk_usage(target.parent)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=10 << 20))
    with pytest.raises(DiskFull, match=r"64 MB are needed, 10 MB are free"):
        burn_in(source, [studio.panel(source, 1600, 3000)], target)
    assert list(target.parent.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="limits of this kind are of Unix")
@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_a_disk_that_fills_up_on_the_way_gives_one_sentence(
    studio: Studio, tmp_path: Path, suffix: str
) -> None:
    """A limit on the size of files stands in for the disk: no half file stays, no traceback comes."""
    source = studio.make(suffix=suffix)
    folder = tmp_path / "full"
    code = f"""
import resource, sys
from pathlib import Path
import numpy as np
from reelnotes.picture.blend import Panel
from reelnotes.picture.burn import burn_in
from reelnotes.problems import DiskFull
panel = Panel(np.full((40, 40, 4), 255, np.uint8), 1600, 3000, (320, 180))
resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))
try:
    burn_in(Path({str(source)!r}), [panel], Path({str(folder / "new.mp4")!r}))
except DiskFull as full:
    sys.exit(str(full))
"""
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 1
    assert done.stderr.strip().endswith("Make room or choose another disk.")
    assert list(folder.iterdir()) == []


def test_a_folder_that_cannot_be_written_is_refused(studio: Studio, tmp_path: Path) -> None:
    """A file stands where the folder should be."""
    (tmp_path / "file").write_text("x")
    source = studio.make()
    with pytest.raises(FolderUnwritable):
        burn_in(source, [studio.panel(source, 1600, 3000)], tmp_path / "file" / "new.mp4")


def test_without_the_library_the_way_out_is_told(
    studio: Studio, target: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence names the command that installs it."""
    source = studio.make()
    panel = studio.panel(source, 1600, 3000)
    monkeypatch.setitem(sys.modules, "av", None)
    with pytest.raises(LibraryMissing, match=r"pip install 'reelnotes\[picture\]'"):
        burn_in(source, [panel], target)
    assert list(target.parent.iterdir()) == []


def test_looking_at_a_film_loads_no_library(studio: Studio) -> None:
    """A film in MP4 is probed by our own reader."""
    code = f"""
import sys
from pathlib import Path
from reelnotes.picture.probe import probe
probe(Path({str(studio.make())!r}))
assert "av" not in sys.modules
"""
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_a_film_without_places_to_begin_says_so(studio: Studio) -> None:
    """Where only the first picture stands alone, all behind an insert is coded anew: that is told first."""
    long = studio.make(frames=900, rate=Fraction(25), coding="keyint=900:scenecut=0", sound=None)
    assert any("all that follows" in note for note in probe(long).notes)
    assert probe(studio.make()).notes == ()


def test_the_helper_of_these_tests_changes_nothing_else(studio: Studio) -> None:
    """A film written anew without a change has the same pictures, packets and times."""
    source = studio.make()
    copy = studio.edit(source, "same", lambda _: None)
    assert children(b"") == []
    before, after = studio.look(source), studio.look(copy)
    assert (after.hashes, after.packets, after.streams) == (before.hashes, before.packets, before.streams)
