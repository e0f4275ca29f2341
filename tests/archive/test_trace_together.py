"""What is asked of the archive together, how sure an answer is, and what a correction gets of it."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from reelnotes.pipeline.archive import ARCHIVE
from reelnotes.pipeline.ledger import read_ledger

Run = Callable[..., tuple[int, str, str]]

LOG = """\
2026-06-01
10:10 old varnish off with meadow stripper 200 ml
11:00 piano stool in, thread stripped
15:30 boiled linseed on the top, oily rags on the heap
"""
SPEECH = """\
1
00:00:05,000 --> 00:00:12,000
The old varnish comes off with the meadow stripper.

2
00:01:00,000 --> 00:01:08,000
The piano stool has a stripped thread, and I see to it later.

3
00:02:00,000 --> 00:02:08,000
Boiled linseed oil goes on, and I throw the oily rags on the heap in the corner.
"""
SHELF = """\
name,pack,unit,price,kind,notes
Meadow stripper,1000,ml,18,solvent,
Boiled linseed oil,500,ml,9.5,oil,
"""
RECORD = (
    'recorded = 2026-06-20\nsignal = "WARNING"\nshown = "a gel stripper used"\nwrong = "it is called back"\n'
    'instead = "stop using it"\n\n[[place]]\nepisode = "oak"\nversion = 1\nspan = "0:05-0:06"\n'
)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Give a workshop of three episodes that tell the same, the last without a date, and one correction."""
    for slug, about in (("ash", "date = 2026-05-01\n"), ("oak", "date = 2026-06-01\n"), ("elm", "")):
        folder = tmp_path / "episodes" / slug
        folder.mkdir(parents=True)
        (folder / "shop-log.txt").write_text(LOG)
        (folder / "transcript.srt").write_text(SPEECH)
        (folder / "episode.toml").write_text(about)
    (tmp_path / "shelf.csv").write_text(SHELF)
    (tmp_path / "corrections").mkdir()
    (tmp_path / "corrections" / "called-back.toml").write_text(RECORD)
    return tmp_path


def texts(run: Run, shop: Path, *words: str) -> list[str]:
    """Ask, and give the words of what was found."""
    code, out, err = run("trace", shop, "--json", *words)
    assert code == 0, err
    return [one["text"] for one in json.loads(out)["found"]]


def test_a_topic_and_a_product_must_hold_together(shop: Path, run: Run) -> None:
    """Flags on oily rags are found for the oil that is named then and there, and for no other product."""
    assert texts(run, shop, "--topic", "rag-fire")
    assert texts(run, shop, "--topic", "rag-fire", "--product", "Boiled linseed oil")
    assert texts(run, shop, "--topic", "rag-fire", "--product", "Meadow stripper") == []


def test_a_topic_and_a_kind_of_work_must_hold_together(shop: Path, run: Run) -> None:
    """Flags of a topic are found for the kind of work that their entry tells of, and for no other."""
    assert texts(run, shop, "--topic", "rag-fire", "--kind", "oiling")
    assert texts(run, shop, "--topic", "rag-fire", "--kind", "sanding") == []


def test_a_product_off_the_shelf_is_found_with_words_too(shop: Path, run: Run) -> None:
    """Words and a product that has left the shelf are looked for together."""
    (shop / "shelf.csv").unlink()
    found = texts(run, shop, "varnish", "--product", "Meadow stripper")
    assert found
    assert all("varnish" in text and "stripper" in text for text in found)


def test_a_deed_alone_is_not_sure_to_be_the_product(shop: Path, run: Run) -> None:
    """A thread that was stripped says that another product may be meant, the stripper by name does not."""
    _, out, _ = run("trace", shop, "--product", "Meadow stripper", "--json")
    sure = {one["text"]: one["sure"] for one in json.loads(out)["found"] if one["source"] == "log"}
    assert sure["old varnish off with meadow stripper 200 ml"] is True
    assert sure.get("piano stool in, thread stripped", False) is False


def test_what_a_correction_would_be_given_says_what_is_not_sure(shop: Path, run: Run) -> None:
    """The list of places to add marks those where another product may be meant, for programs too."""
    words = ("--product", "Meadow stripper", "--correct", "called-back")
    _, out, _ = run("trace", shop, *words)
    told = out.split("would be given")[1]
    assert "may be another product" in told
    assert "called-back.toml" in told
    _, out, _ = run("trace", shop, *words, "--json")
    assert {place["sure"] for place in json.loads(out)["added"]["places"]} == {True, False}


def test_the_ledger_stands_behind_all_episodes(shop: Path, run: Run) -> None:
    """What corrections say comes after the episodes, those without a date among them."""
    _, out, _ = run("trace", shop, "stripper", "--json")
    episodes = [one["episode"] for one in json.loads(out)["found"]]
    assert None in episodes
    assert "elm" in episodes
    assert all(name is None for name in episodes[episodes.index(None) :])


def test_several_at_once_add_each_place_once(shop: Path) -> None:
    """Processes that retract the same at the same moment give the record every place once."""
    subprocess.run([sys.executable, "-m", "reelnotes", "trace", str(shop), "varnish"], check=True)
    words = ["stripper", "--correct", "called-back", "--yes"]
    command = [sys.executable, "-m", "reelnotes", "trace", str(shop), *words]
    adding = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(3)]
    for one in adding:
        one.communicate(timeout=60)
    assert [one.returncode for one in adding] == [0, 0, 0]
    places = [(place.episode, place.span) for place in read_ledger(shop).get("called-back").places]
    assert len(places) > 2
    assert len(places) == len(set(places))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("glue", "--since", "2026-12-01", "--until", "2026-01-01"), "turn them round"),
        (("glue", "--yes"), "--correct ID"),
    ],
)
def test_what_says_nothing_is_refused(shop: Path, run: Run, words: tuple[str, ...], told: str) -> None:
    """Days that end before they begin, and --yes to nothing, are wrong use: one sentence, exit code 2."""
    code, out, err = run("trace", shop, *words)
    assert (code, out) == (2, "")
    assert told in err
    assert err.count("\n") == 1


def test_one_day_is_a_stretch_of_days(shop: Path, run: Run) -> None:
    """--since and --until may name the same day."""
    assert texts(run, shop, "varnish", "--since", "2026-06-01", "--until", "2026-06-01")


def test_very_long_words_are_not_all_repeated(shop: Path, run: Run) -> None:
    """The answer to a very long question is short."""
    _, out, _ = run("trace", shop, "x" * 100_000)
    assert len(out) < 400


def test_an_archive_found_damaged_by_the_question_is_made_anew(shop: Path, run: Run) -> None:
    """A table that is missed only when it is asked for ends nothing: the archive is made again."""
    before = texts(run, shop, "--topic", "rag-fire")
    with closing(sqlite3.connect(shop / ARCHIVE)) as connection:
        connection.execute("DROP TABLE flag")
    code, out, err = run("trace", shop, "--topic", "rag-fire", "--json")
    assert code == 0, err
    assert [one["text"] for one in json.loads(out)["found"]] == before
    assert f"{ARCHIVE}.aside" in out


def test_a_folder_of_that_name_is_set_aside(shop: Path, run: Run) -> None:
    """A folder where the archive belongs is moved out of the way with all that it holds, and said."""
    (shop / ARCHIVE).mkdir()
    (shop / ARCHIVE / "mine.txt").write_text("x")
    code, out, err = run("trace", shop, "varnish")
    assert code == 0
    assert "varnish" in out
    assert "set aside" in err
    assert (shop / f"{ARCHIVE}.aside" / "mine.txt").read_text() == "x"


def test_what_was_set_aside_before_is_kept(shop: Path, run: Run) -> None:
    """A second file that is no archive does not replace the first one that was set aside."""
    for content in ("first", "second"):
        (shop / ARCHIVE).write_text(content)
        assert run("trace", shop, "varnish")[0] == 0
    kept = {path.read_text() for path in shop.glob(f"{ARCHIVE}.aside*")}
    assert kept == {"first", "second"}
