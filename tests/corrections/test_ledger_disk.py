"""The ledger on disk: locks, kills, other people's bytes."""

from __future__ import annotations

import random
import subprocess
import sys
import threading
import time
from datetime import date
from pathlib import Path

import pytest

from reelnotes.corrections.refusals import RecordDamaged, UnknownRecord
from reelnotes.pipeline.corrections import mark_published, record_correction
from reelnotes.pipeline.ledger import add_tables, read_ledger
from reelnotes.pipeline.records import Asked
from reelnotes.problems import FileChanged, FileUnreadable, FolderBusy, FolderUnwritable
from reelnotes.project import versions_of
from reelnotes.store import alone_in, write_file
from reelnotes.timing import Span

CUES = "1\n00:00:01,000 --> 00:20:00,000\nThe top goes on.\n"
RECORD = 'signal = "NOTICE"\nshown = "s"\nwrong = "w"\ninstead = "i"\n'
PLACE = '[[place]]\nepisode = "oak"\nspan = "1:00-1:10"\n'


@pytest.fixture
def workshop(tmp_path: Path) -> Path:
    oak = tmp_path / "episodes" / "oak"
    oak.mkdir(parents=True)
    (tmp_path / "workshop.toml").write_text('name = "w"\n')
    (oak / "transcript.srt").write_text(CUES)
    (tmp_path / "corrections").mkdir()
    return tmp_path


def asked(shown: str = "the top glued in") -> Asked:
    return Asked(spans=(Span(60_000, 70_000),), shown=shown, wrong="w", instead="i", signal="notice")


# --- two writers -------------------------------------------------------------------------------------


def test_a_second_writer_waits_for_the_first(workshop: Path) -> None:
    """The lock is let go, and the second goes on."""
    order: list[str] = []
    held = threading.Event()

    def first() -> None:
        with alone_in(workshop / "corrections"):
            held.set()
            time.sleep(0.2)
            order.append("first")

    thread = threading.Thread(target=first)
    thread.start()
    held.wait()
    record_correction(workshop / "episodes" / "oak", asked())
    order.append("second")
    thread.join()
    assert order == ["first", "second"]


def test_a_second_writer_that_waits_too_long_is_told(workshop: Path) -> None:
    """One sentence, and nothing done."""
    with (
        alone_in(workshop / "corrections"),
        pytest.raises(FolderBusy, match="another reelnotes is writing there"),
        alone_in(workshop / "corrections", wait_s=0.05),
    ):
        pass


def test_a_lock_is_free_again_after_use(workshop: Path) -> None:
    """Held twice in a row without waiting."""
    for _ in range(2):
        with alone_in(workshop / "corrections", wait_s=0):
            pass


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    """A file stands where the ledger would be."""
    (tmp_path / "corrections").write_text("not a folder")
    with pytest.raises(FolderUnwritable), alone_in(tmp_path / "corrections"):
        pass


def test_many_writers_lose_no_record(workshop: Path) -> None:
    """Six threads at once, each with the same words but its own id: six files, whole."""
    oak = workshop / "episodes" / "oak"
    threads = [
        threading.Thread(target=record_correction, args=(oak, asked(f"the top glued in {n}")))
        for n in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    ledger = read_ledger(workshop)
    assert ledger.problems == ()
    assert {record.shown for record in ledger.records} == {f"the top glued in {n}" for n in range(6)}


# --- killed ------------------------------------------------------------------------------------------

WRITER = """
import sys
from pathlib import Path
from reelnotes.pipeline.corrections import mark_published, record_correction
from reelnotes.pipeline.records import Asked
from reelnotes.timing import Span
top = Path(sys.argv[1])
first = n = int(sys.argv[2])
while True:
    n += 1
    words = f"step {n} " + "told at length " * 400
    spans = (Span(60_000, 70_000),)
    texts = dict(shown=words, wrong="w", instead="i", signal="notice", topic="dust", record=f"r{n}")
    record_correction(top / "episodes" / "oak", Asked(spans=spans, **texts))
    for where in ("in-picture", "description", "roundup"):
        mark_published(top, f"r{n}", where)
    mark_published(top, "mine", "in-picture")
    if n == first + 1:
        print("ready", flush=True)
"""


def test_a_kill_at_any_moment_leaves_every_record_old_or_new(workshop: Path) -> None:
    """Six writers are killed at random; no file is half, no hand-written byte is lost, the lock is free."""
    mine = f"# by hand\n{RECORD}{PLACE}# the end\n"
    (workshop / "corrections" / "mine.toml").write_text(mine)
    rng = random.Random(7)  # noqa: S311 - moments, not secrets
    for turn in range(6):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(workshop), str(turn * 1000)], stdout=subprocess.PIPE
        )
        assert writer.stdout
        assert writer.stdout.readline() == b"ready\n"
        time.sleep(rng.uniform(0.005, 0.15))
        writer.kill()
        writer.communicate()
        ledger = read_ledger(workshop)
        assert ledger.problems == ()
        assert all(len(record.places) == 1 for record in ledger.records)
        assert (workshop / "corrections" / "mine.toml").read_text().startswith(mine)
        with alone_in(workshop / "corrections", wait_s=0):
            pass
    assert len(ledger.records) > 12


DYING = """
import os, sys, tempfile
from pathlib import Path
from reelnotes.pipeline.corrections import mark_published
steps = 0
def dying(function):
    def call(*args, **kwargs):
        global steps
        for turn in range(2):
            steps += 1
            if steps == int(sys.argv[2]):
                os._exit(9)
            if not turn:
                result = function(*args, **kwargs)
        return result
    return call
for name in ("fdopen", "chmod", "replace", "close"):
    setattr(os, name, dying(getattr(os, name)))
tempfile.mkstemp = dying(tempfile.mkstemp)
mark_published(Path(sys.argv[1]), "mine", "in-picture")
"""


def test_an_end_between_any_two_steps_of_a_write_leaves_old_or_new(workshop: Path) -> None:
    """The process ends before and after each call that a write makes; the record is old or new."""
    path = workshop / "corrections" / "mine.toml"
    path.write_text(RECORD + PLACE)
    seen = set()
    for step in range(1, 30):
        path.write_text(RECORD + PLACE)
        done = subprocess.run([sys.executable, "-c", DYING, str(workshop), str(step)], check=False)
        ledger = read_ledger(workshop)
        assert ledger.problems == ()
        assert path.read_text().startswith(RECORD + PLACE)
        (record,) = ledger.records
        seen.add((done.returncode, len(record.reach), len(record.history)))
        if done.returncode == 0:
            break
    assert seen == {(9, 0, 0), (9, 1, 1), (0, 1, 1)}


# --- other people's bytes ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "raw",
    [
        b"\xef\xbb\xbf" + (RECORD + PLACE).encode(),
        (RECORD + PLACE).replace("\n", "\r\n").encode(),
        (RECORD + PLACE).rstrip().encode(),
        ("# Möbel\n" + RECORD + PLACE).encode(),
    ],
    ids=["byte order mark", "CRLF", "no last line end", "accents"],
)
def test_adding_leaves_the_bytes_that_were_there(workshop: Path, raw: bytes) -> None:
    """What was in the file is the beginning of what is; what is added has its line ends."""
    path = workshop / "corrections" / "top.toml"
    path.write_bytes(raw)
    mark_published(workshop, "top", "in-picture", on="2026-03-28")
    assert path.read_bytes().startswith(raw)
    assert (b"\r\n" in raw) == (b"\r\n" in path.read_bytes().removeprefix(raw))
    (record,) = read_ledger(workshop).records
    assert [(reach.where, reach.on) for reach in record.reach] == [("in-picture", date(2026, 3, 28))]


def test_a_record_that_is_not_utf8_is_not_added_to(workshop: Path) -> None:
    """Latin-1 bytes would be mixed with UTF-8; the file stays as it is."""
    path = workshop / "corrections" / "top.toml"
    path.write_bytes("# Möbel\n".encode("latin-1") + (RECORD + PLACE).encode())
    before = path.read_bytes()
    with pytest.raises(RecordDamaged, match="is not UTF-8"):
        mark_published(workshop, "top", "in-picture")
    assert path.read_bytes() == before


def test_a_damaged_record_is_refused_by_name_and_the_others_work(workshop: Path) -> None:
    """The bad one is a problem, the good one is read and added to."""
    (workshop / "corrections" / "bad.toml").write_text("shown = ")
    (workshop / "corrections" / "good.toml").write_text(RECORD + PLACE)
    ledger = read_ledger(workshop)
    assert [record.id for record in ledger.records] == ["good"]
    assert [(p.file, p.severity) for p in ledger.problems] == [("corrections/bad.toml", "error")]
    with pytest.raises(RecordDamaged, match=r"bad\.toml"):
        mark_published(workshop, "bad", "in-picture")
    assert mark_published(workshop, "good", "in-picture").new


def test_an_editor_that_saves_meanwhile_is_not_overwritten(
    workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was saved between our reading and our writing is read anew and kept."""
    path = workshop / "corrections" / "top.toml"
    path.write_text(RECORD + PLACE)
    saved = f"# saved meanwhile\n{RECORD}{PLACE}"
    turns = iter([saved])

    def meanwhile(at: Path, content: bytes, *, expect_sha256: str | None = None) -> None:
        if text := next(turns, ""):
            path.write_text(text)
        write_file(at, content, expect_sha256=expect_sha256)

    monkeypatch.setattr("reelnotes.pipeline.ledger.write_file", meanwhile)
    mark_published(workshop, "top", "in-picture")
    assert path.read_text().startswith(saved)


def test_an_editor_that_never_stops_saving_is_told(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After some tries the file is left as it is."""
    path = workshop / "corrections" / "top.toml"
    path.write_text(RECORD + PLACE)

    def never(at: Path, content: bytes, *, expect_sha256: str | None = None) -> None:
        raise FileChanged(at)

    monkeypatch.setattr("reelnotes.pipeline.ledger.write_file", never)
    with pytest.raises(FileChanged):
        add_tables(path, [("history", {"what": "x"})])


def test_an_unknown_id_is_refused_with_the_nearest(workshop: Path) -> None:
    """`glued-tpo` is answered with the one that was meant."""
    (workshop / "corrections" / "glued-top.toml").write_text(RECORD + PLACE)
    with pytest.raises(UnknownRecord, match="did you mean glued-top"):
        mark_published(workshop, "glued-tpo", "in-picture")


def test_hidden_files_are_no_records(workshop: Path) -> None:
    """An editor's leavings do not count."""
    (workshop / "corrections" / ".glued-top.toml").write_text("half")
    assert read_ledger(workshop).problems == ()


# --- what cannot be looked into ----------------------------------------------------------------------


def test_a_ledger_that_cannot_be_looked_into_is_not_empty(tmp_path: Path) -> None:
    """A file where the folder of records belongs is refused; no folder at all is a ledger without records."""
    assert read_ledger(tmp_path).records == ()
    (tmp_path / "corrections").write_text("x")
    with pytest.raises(FileUnreadable, match="corrections: cannot be read"):
        read_ledger(tmp_path)


def test_a_record_that_is_no_text_costs_the_others_nothing(workshop: Path) -> None:
    """A binary file and a folder among the records are told, and the others count."""
    (workshop / "corrections" / "good.toml").write_text(RECORD + PLACE)
    (workshop / "corrections" / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    (workshop / "corrections" / "folder.toml").mkdir()
    ledger = read_ledger(workshop)
    assert [one.id for one in ledger.records] == ["good"]
    assert [problem.file for problem in ledger.problems] == [
        "corrections/bytes.toml",
        "corrections/folder.toml",
    ]


def test_versions_that_cannot_be_looked_into_are_refused(
    workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An episode whose folder lets nobody in is one sentence with its name."""

    def closed(_: Path) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "is_dir", closed)
    with pytest.raises(FileUnreadable, match="permission denied"):
        versions_of(workshop / "episodes" / "oak")
