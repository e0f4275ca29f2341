"""The archive: made from plain files, kept up to date, and lost with no harm."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.archive.trace import Traced, Wanted, trace
from reelnotes.pipeline.archive import ARCHIVE, open_archive
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.words.tokens import words_in

LOG = """\
2026-03-04
09:40 glued the back board all round, pearl hide glue 30 ml, 6 clamps
11:15 sanded the seat 120 then 240
14:15 meths on the old polish, 40 ml
15:00 oily rags in the bin
"""
SPEECH = """\
1
00:00:05,000 --> 00:00:12,000
The back board goes in with hide glue all round and six clamps.

2
00:01:00,000 --> 00:01:08,000
I sand the seat with one twenty and then two forty by hand with wire

3
00:01:08,000 --> 00:01:14,000
wool for the corners and the edges of it.

4
00:02:00,000 --> 00:02:08,000
The old polish comes off with denatured alcohol, about forty mil.
"""
SHELF = (
    "name,pack,unit,price,kind,notes\nPearl hide glue,500,ml,16,glue,\nMethylated spirit,1000,ml,8,solvent,\n"
)

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Give a workshop with two episodes and nothing drafted."""
    top = tmp_path / "shop"
    add_episode(top, "oak", LOG, SPEECH, 'title = "The oak chair"\ndate = 2026-03-06\nbudget = 20\n')
    add_episode(top, "elm", "2026-05-01\n10:00 waxed the lid\n", "", "date = 2026-05-03\n")
    (top / "workshop.toml").write_text('currency = "EUR"\n[words]\nsame = [["donkey", "shaving horse"]]\n')
    (top / "shelf.csv").write_text(SHELF)
    return top


def add_episode(top: Path, slug: str, log: str, speech: str, about: str = "") -> Path:
    """Write an episode's files."""
    folder = top / "episodes" / slug
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "shop-log.txt").write_text(log)
    if speech:
        (folder / "transcript.srt").write_text(speech)
    (folder / "episode.toml").write_text(about)
    return folder


def ask(shop: Path, **wanted: Any) -> Traced:  # noqa: ANN401 - what `Wanted` takes
    """Open the archive and ask it."""
    archive, _ = open_archive(shop)
    with closing(archive):
        return trace(archive, Wanted(**wanted))


def dump(shop: Path) -> list[tuple[Any, ...]]:
    """Give all that an archive holds, without its own numbers."""
    archive, _ = open_archive(shop)
    with closing(archive.connection) as connection:
        rows: list[tuple[Any, ...]] = []
        for query in (
            "SELECT slug, title, published, version, address, duration_ms, total, budget, spent FROM episode",
            (
                "SELECT slug, source, text, start_ms, end_ms, entry, logged_at, heads, onward, kinds "
                "FROM line JOIN words ON words.rowid = line.id LEFT JOIN episode ON episode.id = line.episode"
            ),
            "SELECT product, text, among FROM mention JOIN line ON line.id = mention.line",
            "SELECT slug, name, kind, amount, unit, cost FROM material JOIN episode ON episode.id = episode",
            "SELECT slug, topic, signal, start_ms, quote FROM flag JOIN episode ON episode.id = episode",
        ):
            rows += sorted(connection.execute(query), key=repr)
        return rows


# --- what is found -----------------------------------------------------------------------------------


def test_a_practice_is_found_under_another_name(shop: Path) -> None:
    """Methylated spirit answers for meths in the log and for denatured alcohol in speech."""
    traced = ask(shop, words="methylated spirit")
    assert {one.source for one in traced.found} == {"log", "speech"}
    assert set(traced.forms(9)) >= {"meths", "denatured alcohol"}


def test_answers_tell_where_in_the_programme(shop: Path) -> None:
    """An answer in speech has its cue's time, one in the log the span where its step is told."""
    speech, log = (
        next(o for o in ask(shop, words="hide glue").found if o.source == s) for s in ("speech", "log")
    )
    assert (speech.start_ms, speech.at) == (5000, "0:05")
    assert log.start_ms is not None
    assert log.start_ms <= 12_000
    assert (log.entry, log.logged_at) == (0, "2026-03-04T09:40:00")


def test_words_are_found_across_the_border_of_two_cues(shop: Path) -> None:
    """Captions break where they like: the second half of what is asked for may stand in the next cue."""
    (found,) = [one for one in ask(shop, words="wire wool").found if one.source == "speech"]
    assert (found.start_ms, found.end_ms) == (60_000, 74_000)
    assert "wire wool" in found.text


def test_a_cue_that_holds_all_of_it_answers_for_itself(shop: Path) -> None:
    """One word of a phrase in the cue before does not make that cue the answer, and no words come twice."""
    speech = SPEECH.replace("with wire", "with glue").replace("wool for", "of hide glue, and wool for")
    add_episode(shop, "oak", LOG, speech)
    first, second = (one for one in ask(shop, words="hide glue").found if one.source == "speech")
    assert (first.start_ms, second.start_ms) == (5000, 68_000)
    assert second.text.count("glue") == 1


def test_a_workshop_s_own_words_count(shop: Path) -> None:
    """Words that mean the same in this workshop are found for each other."""
    add_episode(shop, "ash", "2026-06-01\n10:00 spokes on the donkey\n", "")
    assert [one.episode for one in ask(shop, words="shaving horse").found] == ["ash"]


def test_a_product_is_found_under_any_name(shop: Path) -> None:
    """A recall asks for the shelf's name and finds the log's and the tongue's."""
    found = ask(shop, product="Methylated spirit")
    assert found.products == ("Methylated spirit",)
    assert {one.source for one in found.found} == {"log", "speech"}


def test_a_product_that_left_the_shelf_is_found_by_its_words(shop: Path) -> None:
    """What is no longer stocked is still in the old episodes."""
    open_archive(shop)[0].close()
    (shop / "shelf.csv").write_text("name,pack,unit,price,kind,notes\n")
    assert any(one.source == "log" for one in ask(shop, product="pearl hide glue").found)


def test_a_topic_finds_its_flags(shop: Path) -> None:
    """A topic of risk answers with the flags of the drafts, whether in log or speech."""
    found = ask(shop, topic="rag-fire").found
    assert [(one.episode, one.topic) for one in found] == [("oak", "rag-fire")]


def test_a_kind_of_work_finds_entries(shop: Path) -> None:
    """Waxing is found in the entry that says so, and not among the sanding."""
    assert [one.text for one in ask(shop, kind="waxing").found] == ["waxed the lid"]


def test_days_narrow_the_answer(shop: Path) -> None:
    """Episodes before the first day and after the last are left out; both days count."""
    from datetime import date

    day = date(2026, 3, 6)
    assert ask(shop, words="glue", since=day, until=day).found
    assert not ask(shop, words="glue", since=date(2026, 3, 7)).found
    assert not ask(shop, words="glue", until=date(2026, 3, 5)).found


def test_a_correction_s_words_are_found(shop: Path) -> None:
    """The ledger is part of the archive, and follows when a record is added."""
    assert not ask(shop, words="crossgrain").found
    (shop / "corrections").mkdir()
    (shop / "corrections" / "top.toml").write_text(
        'signal = "NOTICE"\nshown = "crossgrain batten"\nwrong = "splits"\ninstead = "slot it"\n'
    )
    (found,) = ask(shop, words="crossgrain").found
    assert (found.source, found.record) == ("correction", "top")


@pytest.mark.parametrize(
    ("address", "link"),
    [
        ("https://video.example/oak", "https://video.example/oak#t=5"),
        ("https://video.example/oak?from={s}", "https://video.example/oak?from=5"),
        ("", ""),
    ],
)
def test_the_link_leads_to_the_moment(shop: Path, address: str, link: str) -> None:
    """The time is added as W3C Media Fragments URI 1.0 (4.2.1, normal play time) writes it: `#t=5`."""
    (shop / "episodes" / "oak" / "episode.toml").write_text(f'address = "{address}"\n')
    found = next(one for one in ask(shop, words="hide glue").found if one.source == "speech")
    assert found.link == link


QUERIES = st.text(max_size=30) | st.sampled_from(
    [
        '"',
        '" OR "',
        "glue AND",
        "NEAR(a b",
        "heads : glue",
        "*",
        "a* - b",
        "(",
        "½ 3/4",
        "'; DROP TABLE line;--",
    ]
)


@given(words=QUERIES)
@settings(max_examples=60, deadline=None)
def test_no_words_are_taken_for_an_operator(words: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Whatever is typed is looked for as words: it may find nothing, but it never fails."""
    top = tmp_path_factory.getbasetemp() / "typed"
    if not top.exists():
        add_episode(top, "oak", LOG, SPEECH)
    assert isinstance(ask(top, words=words).found, tuple)
    assert isinstance(ask(top, product=words).found, tuple)


@given(log=st.lists(st.text("abcdefghijklm éß", min_size=3, max_size=25), min_size=1, max_size=5))
@settings(max_examples=25, deadline=None)
def test_every_word_of_a_log_is_found(log: list[str], tmp_path_factory: pytest.TempPathFactory) -> None:
    """Each entry answers to each of its words."""
    top = tmp_path_factory.mktemp("words")
    lines = [f"{9 + n:02}:00 x{text}" for n, text in enumerate(log)]
    add_episode(top, "one", "\n".join(["2026-01-05", *lines]), "")
    archive, _ = open_archive(top)
    with closing(archive):
        for line in archive.lines("one"):
            for word in words_in(line.text):
                texts = [one.text for one in trace(archive, Wanted(words=word)).found]
                assert line.text in texts, word


# --- keeping it up to date ---------------------------------------------------------------------------


def test_deleting_it_loses_nothing(shop: Path) -> None:
    """An archive made anew holds what the old one held."""
    before = dump(shop)
    (shop / ARCHIVE).unlink()
    assert dump(shop) == before
    assert len(before) > 10


def change_log(shop: Path) -> None:
    """Add an entry."""
    with (shop / "episodes" / "oak" / "shop-log.txt").open("a") as log:
        log.write("16:00 wedge of elm\n")


def remove_episode(shop: Path) -> None:
    """Take an episode away."""
    shutil.rmtree(shop / "episodes" / "oak")


def add_another(shop: Path) -> None:
    """Add an episode."""
    add_episode(shop, "ash", LOG, SPEECH)


def change_shelf(shop: Path) -> None:
    """Put another glue on the shelf, at another price."""
    (shop / "shelf.csv").write_text(SHELF.replace("16", "19") + "Fish glue,250,ml,12,glue,\n")


def change_words(shop: Path) -> None:
    """Give the workshop other words of its own."""
    (shop / "workshop.toml").write_text('currency = "EUR"\n[words]\nsame = [["lid", "bonnet"]]\n')


def draft(shop: Path) -> None:
    """Draft an episode on disk."""
    from reelnotes.pipeline.episode import draft_episode, write_draft

    write_draft(*draft_episode(shop / "episodes" / "oak"))


CHANGES = (change_log, remove_episode, add_another, change_shelf, change_words, draft)


@given(changes=st.lists(st.sampled_from(CHANGES), min_size=1, max_size=4))
@settings(max_examples=20, deadline=None)
def test_brought_up_to_date_it_is_as_if_made_anew(
    changes: list[Any], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """After any changes to the folder, each seen by itself, the archive is what it would be made anew."""
    top = tmp_path_factory.mktemp("changing")
    add_episode(top, "oak", LOG, SPEECH)
    add_episode(top, "elm", "2026-05-01\n10:00 waxed the lid\n", "")
    (top / "shelf.csv").write_text(SHELF)
    kept = dump(top)
    for change in changes:
        if change in {change_log, draft, remove_episode} and not (top / "episodes" / "oak").exists():
            continue
        change(top)
        kept = dump(top)
    (top / ARCHIVE).unlink()
    assert dump(top) == kept


def test_what_did_not_change_is_not_read_again(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second look drafts nothing, and neither does a file that was only touched."""
    open_archive(shop)[0].close()

    def refuse(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr("reelnotes.pipeline.archive.draft_use", refuse)
    monkeypatch.setattr("reelnotes.pipeline.archive.read_episode", refuse)
    open_archive(shop)[0].close()
    os.utime(shop / "episodes" / "oak" / "shop-log.txt", (time.time() + 5, time.time() + 5))
    open_archive(shop)[0].close()


def test_a_draft_on_disk_keeps_the_prices_of_its_day(shop: Path) -> None:
    """Where a draft of the same log and transcript lies there, its cost stands, whatever the shelf asks."""
    draft(shop)
    change_shelf(shop)
    archive, _ = open_archive(shop)
    with closing(archive):
        costs = {material.name: material.cost for _, material in archive.materials()}
    assert costs["Pearl hide glue"] == Decimal("0.96")
    (shop / "episodes" / "oak" / "out" / "draft.json").unlink()
    archive, _ = open_archive(shop)
    with closing(archive):
        costs = {material.name: material.cost for _, material in archive.materials()}
    assert costs["Pearl hide glue"] == Decimal("1.14")


@pytest.mark.parametrize("content", ["{", '{"schema": "reelnotes/draft-1"}', '{"inputs": 3}', "[]", ""])
def test_a_draft_that_cannot_be_read_is_drafted_in_memory(shop: Path, content: str) -> None:
    """A damaged draft.json does no harm, and is not written over."""
    out = shop / "episodes" / "oak" / "out"
    out.mkdir()
    (out / "draft.json").write_text(content)
    assert ask(shop, words="hide glue").found
    assert (out / "draft.json").read_text() == content


def test_nothing_is_written_but_the_archive(shop: Path) -> None:
    """Asking leaves the maker's folders as they are."""
    before = sorted(path for path in shop.rglob("*"))
    ask(shop, words="glue")
    assert [path.name for path in sorted(shop.rglob("*")) if path not in before] == [ARCHIVE]


def test_sqlite_finds_no_fault_in_it(shop: Path) -> None:
    """SQLite's own check of the file, and FTS5's of its index, find nothing wrong after changes."""
    dump(shop)
    change_log(shop)
    remove_episode(shop)
    dump(shop)
    with closing(sqlite3.connect(shop / ARCHIVE)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        connection.execute("INSERT INTO words (words) VALUES ('integrity-check')")
        assert connection.execute("SELECT count(*) FROM line").fetchone() == (1,)
        assert connection.execute("SELECT count(*) FROM words").fetchone() == (1,)


@pytest.mark.parametrize(
    "content", [b"not a database at all, but somebody's notes", b"SQLite format 3\0" + bytes(900)]
)
def test_a_file_that_is_no_archive_is_set_aside(shop: Path, content: bytes) -> None:
    """What lies under the archive's name and is none is kept under another one, and said."""
    (shop / ARCHIVE).write_bytes(content)
    archive, problems = open_archive(shop)
    archive.close()
    assert [problem.code for problem in problems] == ["archive"]
    assert (shop / f"{ARCHIVE}.aside").read_bytes() == content
    assert ask(shop, words="glue").found


def test_a_damaged_archive_is_made_anew(shop: Path) -> None:
    """An archive whose pages were overwritten is set aside and made again in the same breath."""
    before = dump(shop)
    data = bytearray((shop / ARCHIVE).read_bytes())
    data[4096:] = b"\xff" * (len(data) - 4096)
    (shop / ARCHIVE).write_bytes(data)
    assert dump(shop) == before
    assert (shop / f"{ARCHIVE}.aside").exists()


def test_an_archive_that_lost_a_table_is_made_anew(shop: Path) -> None:
    """A file that says it is ours and lacks a table is set aside: nobody waits for it to come right."""
    before = dump(shop)
    with closing(sqlite3.connect(shop / ARCHIVE)) as connection:
        connection.execute("DROP TABLE material")
        connection.execute("UPDATE seen SET glance = ''")
        connection.execute("UPDATE seen SET made_of = ''")
        connection.commit()
    assert dump(shop) == before
    assert (shop / f"{ARCHIVE}.aside").exists()


def test_where_nothing_can_be_written_it_is_made_in_memory(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that cannot be written to is asked all the same; the note says that nothing was kept."""
    monkeypatch.setattr("reelnotes.store.os.access", lambda *_: False)
    archive, problems = open_archive(shop)
    with closing(archive):
        assert trace(archive, Wanted(words="hide glue")).found
    assert [(p.code, p.severity) for p in problems] == [("archive", "note")]
    assert not (shop / ARCHIVE).exists()


def test_several_at_once_make_one_whole_archive(shop: Path) -> None:
    """Processes that ask a new workshop at the same moment all answer, and leave what one would have made."""
    command = [sys.executable, "-m", "reelnotes", "trace", str(shop), "hide glue", "--json"]
    asking = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(4)]
    answers = [one.communicate(timeout=60) for one in asking]
    assert [one.returncode for one in asking] == [0] * 4, answers
    assert len({out for out, _ in answers}) == 1
    kept = dump(shop)
    (shop / ARCHIVE).unlink()
    assert dump(shop) == kept


def test_an_archive_of_an_older_layout_is_made_anew(shop: Path) -> None:
    """Another layout of our own tables is no loss and no news."""
    before = dump(shop)
    with closing(sqlite3.connect(shop / ARCHIVE)) as connection:
        connection.execute("PRAGMA user_version = 99999")
        connection.execute("DROP TABLE flag")
    archive, problems = open_archive(shop)
    archive.close()
    assert problems == []
    assert dump(shop) == before


def test_one_folder_that_nobody_may_look_into_stops_no_question(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The others answer, and a note names the one that is not in the archive."""
    real = os.scandir

    def refusing(path: str | Path) -> Any:  # noqa: ANN401 - what os.scandir gives
        if Path(path).name == "elm":
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr("reelnotes.project.os.scandir", refusing)
    monkeypatch.setattr("reelnotes.project.os.listdir", lambda path: [e.name for e in refusing(path)])
    archive, problems = open_archive(shop)
    with closing(archive):
        assert {one.episode for one in trace(archive, Wanted(words="hide glue")).found} == {"oak"}
    assert [(p.code, p.file) for p in problems] == [("archive-episode", "episodes/elm")]


@pytest.mark.skipif(sys.platform == "win32", reason="signals are sent as Unix does")
def test_ctrl_c_ends_with_a_sentence(shop: Path) -> None:
    """Whoever stops a command is told that nothing half-written was left."""
    command = [sys.executable, "-m", "reelnotes", "trace", str(shop), "glue"]
    with closing(sqlite3.connect(shop / ARCHIVE)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as waiting:
            time.sleep(1.5)
            waiting.send_signal(signal.SIGINT)
            other.rollback()  # the command sees the signal once it no longer waits for the file
            _, err = waiting.communicate(timeout=30)
    assert waiting.returncode == 130
    assert err.strip() == "reelnotes: stopped; nothing half-written was left."


def test_an_archive_in_use_is_refused_in_one_sentence(
    shop: Path, monkeypatch: pytest.MonkeyPatch, run: Run
) -> None:
    """While another process writes for long, the command says so and leaves it alone."""
    monkeypatch.setattr("reelnotes.store._LOCK_WAIT_S", 0.05)
    with closing(sqlite3.connect(shop / ARCHIVE)) as other:
        other.execute("BEGIN EXCLUSIVE")
        code, out, err = run("trace", shop, "glue")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "Try again" in err


# --- the command -------------------------------------------------------------------------------------


def test_trace_prints_episodes_times_and_words(shop: Path, run: Run) -> None:
    """A maker reads how much was found where, and the words in brackets."""
    code, out, _ = run("trace", shop, "meths")
    assert code == 0
    assert "2 places in 1 of 2 episodes" in out
    assert "[meths]" in out
    assert "The oak chair  2026-03-06" in out


def test_trace_gives_one_json_document(shop: Path, run: Run) -> None:
    """With --json there is one document on standard output and nothing else."""
    code, out, err = run("trace", shop, "hide glue", "--json")
    document = json.loads(out)
    assert (code, err, document["schema"]) == (0, "", "reelnotes/trace-1")
    assert {one["source"] for one in document["found"]} == {"log", "speech"}


def test_what_is_found_nowhere_is_said(shop: Path, run: Run) -> None:
    """Nothing found is an answer, and no problem."""
    assert run("trace", shop, "gilding")[:2] == (0, "'gilding': found nowhere in 2 episodes\n")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "nothing was asked for"),
        (("--topic", "rag"), "rag-fire"),
        (("--kind", "sandpapering"), "sanding"),
        (("glue", "--since", "March"), "2026-03-28"),
        (("glue", "--correct", "top"), "top"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(
    shop: Path, run: Run, words: tuple[str, ...], told: str
) -> None:
    """Wrong use is exit code 2 and one sentence with the way out."""
    code, _, err = run("trace", shop, *words)
    assert code == 2
    assert told in err
    assert "Traceback" not in err


def test_a_file_among_the_episodes_does_no_harm(shop: Path, run: Run) -> None:
    """A stray file is passed over; a folder with neither log nor transcript is named, and is no problem."""
    (shop / "episodes" / "notes.txt").write_text("x")
    (shop / "episodes" / "planned").mkdir()
    code, _, err = run("trace", shop, "glue")
    assert code == 0
    assert "episodes/planned" in err


def test_an_empty_workshop_is_an_answer(tmp_path: Path, run: Run) -> None:
    """No episodes, nothing found."""
    (tmp_path / "episodes").mkdir()
    assert run("trace", tmp_path, "glue")[0] == 0


def record_top(shop: Path, run: Run) -> None:
    """Record a correction of the oak chair."""
    words = ("--shown", "glued all round", "--wrong", "it splits", "--instead", "glue the middle")
    where = ("--span", "0:05-0:10", "--signal", "notice", "--id", "top")
    code, _, _ = run("correct", shop / "episodes" / "oak", *where, *words)
    assert code == 0


def test_one_retraction_reaches_every_episode(shop: Path, run: Run) -> None:
    """--correct lists the places, --yes gives them to the record, owed lists them, and once is enough."""
    add_episode(shop, "ash", LOG, SPEECH, "date = 2026-04-01\n")
    record_top(shop, run)
    _, told, _ = run("trace", shop, "hide glue", "--correct", "top")
    assert "would be given 1 place in 1 episode" in told
    assert [place.episode for place in read_ledger(shop).get("top").places] == ["oak"]
    _, done, _ = run("trace", shop, "hide glue", "--correct", "top", "--yes")
    assert "1 place in 1 episode added" in done
    assert [place.episode for place in read_ledger(shop).get("top").places] == ["oak", "ash"]
    _, owing, _ = run("owed", shop, "--json")
    assert {one["episode"] for one in json.loads(owing)["owed"]} == {"oak", "ash"}
    _, again, _ = run("trace", shop, "hide glue", "--correct", "top", "--yes")
    assert "no place to add" in again


def test_places_are_only_added_to_the_ledger(shop: Path, run: Run) -> None:
    """What stood in the record's file stays, byte for byte."""
    add_episode(shop, "ash", LOG, SPEECH)
    record_top(shop, run)
    path = shop / "corrections" / "top.toml"
    before = path.read_bytes()
    run("trace", shop, "hide glue", "--correct", "top", "--yes")
    assert path.read_bytes().startswith(before)


def test_places_already_corrected_are_marked(shop: Path, run: Run) -> None:
    """A place that a record speaks of says so."""
    record_top(shop, run)
    _, out, _ = run("trace", shop, "hide glue", "--json")
    assert all(
        one["corrected_by"] == ["top"] for one in json.loads(out)["found"] if one["start_s"] is not None
    )
