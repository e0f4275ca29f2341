"""Viewers' comments: read without their writers, placed by time and words, and decided once."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Comment, Step, StepSpan
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.read.comments import read_comments
from reelnotes.review.comments import ORDER, digest_of, sorted_remarks, times_in, worth_of
from reelnotes.store import SourceText
from reelnotes.words.lexicon import load_lexicon

Run = Callable[..., tuple[int, str, str]]

# --- reading -----------------------------------------------------------------------------------------


def read(text: str, name: str = "c.csv") -> tuple[list[str], list[Any]]:
    """Read comments and give their texts and the problems."""
    comments, problems = read_comments(SourceText(name, text))
    return [one.text for one in comments], problems


texts = st.text(min_size=1, max_size=40).filter(lambda t: bool(t.replace("@", "").strip()))


@given(st.lists(st.text("abc ,\"'äß\n?!", min_size=1, max_size=30).filter(str.strip), max_size=6))
@settings(max_examples=60, deadline=None)
def test_what_a_spreadsheet_writes_is_read_back(rows: list[str]) -> None:
    """Every row of a table as RFC 4180 has it (by Python's csv) comes back, its white space made plain."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["author", "text", "time"])
    writer.writerows(["A. Person", row, "2026-05-03T10:00:00Z"] for row in rows)
    found, problems = read(out.getvalue())
    assert found == [" ".join(row.split()) for row in rows]
    assert problems == []


@given(st.lists(texts, max_size=6))
@settings(max_examples=40, deadline=None)
def test_every_item_of_json_is_accounted_for(rows: list[str]) -> None:
    """Each item is a comment or a problem, none is lost and none is made up."""
    found, problems = read(json.dumps([{"text": row, "author": "A. Person"} for row in rows]), "c.json")
    assert len(found) + len(problems) == len(rows)


@pytest.mark.parametrize(
    "text",
    [
        "Date,Name,Comment\n2026-05-03,Wilma Witness,nice\n",
        '{"comments": [{"body": "nice", "name": "Wilma Witness", "date": "2026-05-03"}]}',
        "message;from\nnice;Wilma Witness\n",
        "text\n@Wilma.Witness nice\n",
    ],
)
def test_exports_of_other_shapes_are_read_without_names(text: str) -> None:
    """Other words for our columns are known; who wrote it is nowhere."""
    comments, problems = read_comments(SourceText("c", text))
    assert [one.text for one in comments] == ["nice"]
    assert "Wilma" not in repr((comments, problems))


@pytest.mark.parametrize(
    ("written", "moment"),
    [
        ("2026-05-03T10:00:00Z", datetime(2026, 5, 3, 10, tzinfo=UTC)),
        ("2026-05-03T12:00:00+02:00", datetime(2026, 5, 3, 10, tzinfo=UTC)),
        ("1777802400", datetime(2026, 5, 3, 10, tzinfo=UTC)),
        ("", None),
    ],
)
def test_times_are_those_of_rfc_3339(written: str, moment: datetime | None) -> None:
    """With a zone they are moments (RFC 3339, section 5.6); figures alone count from 1970."""
    (comment,), _ = read_comments(SourceText("c", f"time,text\n{written},nice\n"))
    assert comment.written == moment


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "empty"),
        ("who,when\na,b\n", "no column text"),
        ("[{", "not JSON"),
        ('{"a": 1}', "no list"),
        ('[3, {"text": "ok"}]', "item 1"),
        ("text\n@someone\n", "no words"),
        ("time,text\nyesterday,nice\n", "none that can be read"),
    ],
)
def test_what_cannot_be_read_is_one_sentence(text: str, told: str) -> None:
    """Each is told in one sentence, and no line of the file is shown with it."""
    _, problems = read(text)
    assert len(problems) == 1
    assert told in problems[0].message
    assert problems[0].excerpt == ""


# --- placing -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("at 9:12 you", [552]),
        ("9:12", [552]),
        ("1:02:03 is loud", [3723]),
        ("see 0:30 and 12:05, 0:30 again", [30, 725]),
        ("9 min 12 s", [552]),
        ("around the 9 minute mark", [540]),
        ("mix it 1:1", []),
        ("2:15 mix", []),
        ("ratio of 2:1 or 10:1", []),
        ("a 4:3 screen", []),
        ("12:34:56:78", []),
        ("let it dry 20 min", []),
        ("size 3:75", []),
    ],
)
def test_times_are_told_from_mixes(text: str, seconds: list[int]) -> None:
    """Times of the programme have two figures of seconds; ratios, scales and waits are none."""
    assert [ms // 1000 for ms in times_in(text)] == seconds


@pytest.mark.parametrize(
    ("text", "worth"),
    [
        ("Please wear goggles there", "safety"),
        ("those rags will catch fire", "safety"),
        ("where is the guard?", "safety"),
        ("that's not shellac", "contradiction"),
        ("You should never oil over wax", "contradiction"),
        ("it will split by winter", "contradiction"),
        ("What colour is that", "question"),
        ("is this beech?", "question"),
        ("Lovely work", "other"),
        ("I never miss a video", "other"),
        ("the best chair yet 😀", "other"),
    ],
)
def test_a_comment_is_placed_by_its_words(text: str, worth: str) -> None:
    """Danger goes before contradiction, that before a question; praise is the rest."""
    assert worth_of(text)[0] == worth


STEPS = (
    Step("a", 0, "oiled the top with raw linseed", 0.9, (StepSpan(0, 20_000, 0.9, "words"),)),
    Step("b", 1, "drilled for the dowels", 0.9, (StepSpan(20_000, 40_000, 0.9, "words"),)),
    Step("c", 2, "shellac on the drawer fronts", 0.1),
)


def placed(text: str) -> tuple[int, ...]:
    """Give the entries that a comment speaks of."""
    (remark,) = sorted_remarks([Comment(1, text, 1)], STEPS, load_lexicon(), 60_000, {})
    return remark.steps


@pytest.mark.parametrize(
    ("text", "entries"),
    [
        ("at 0:25 it slips", (1,)),
        ("0:20", (1,)),
        ("0:42 what", (1,)),
        ("0:10 and 0:30", (0, 1)),
        ("that shellac on the drawers is too thick", (2,)),
        ("raw linseed oil takes weeks", (0,)),
        ("lovely", ()),
        ("2:00 great", ()),
    ],
)
def test_a_comment_finds_its_step_by_time_or_words(text: str, entries: tuple[int, ...]) -> None:
    """The step told at the time it names, a little late or early; else the one it shares its words with."""
    assert placed(text) == entries


def test_a_time_behind_the_end_is_told() -> None:
    """A time that the video has not is kept apart: another video may be meant."""
    (remark,) = sorted_remarks([Comment(1, "see 59:30", 1)], STEPS, load_lexicon(), 60_000, {})
    assert (remark.at_ms, remark.beyond_ms) == ((), (3_570_000,))


@given(
    st.lists(
        st.sampled_from(["wear a mask", "wrong", "why?", "nice", "0:25 nice", "lead paint?"]), max_size=8
    )
)
@settings(max_examples=60, deadline=None)
def test_every_comment_appears_once_in_the_order_of_its_worth(rows: list[str]) -> None:
    """None is lost or doubled; the worst come first, and among equals those with a place."""
    comments = [Comment(number, text, number) for number, text in enumerate(rows, start=1)]
    remarks = sorted_remarks(comments, STEPS, load_lexicon(), 60_000, {})
    assert sorted(remark.comment.number for remark in remarks) == list(range(1, len(rows) + 1))
    keys = [(ORDER.index(r.worth), not (r.at_ms or r.steps), r.comment.number) for r in remarks]
    assert keys == sorted(keys)


def test_the_same_words_have_the_same_hash() -> None:
    """Case, spaces and signs do not count, so that a new export brings nothing back; words do."""
    assert digest_of("Nice  work!") == digest_of("nice work") != digest_of("nice works")


def test_ten_thousand_comments_are_placed() -> None:
    """A long thread is read through like a short one."""
    rows = [Comment(n, f"that shellac {n} at 0:{n % 60:02} is wrong", n) for n in range(10_000)]
    remarks = sorted_remarks(rows, STEPS, load_lexicon(), 60_000, {})
    assert len(remarks) == 10_000
    assert {remark.worth for remark in remarks} == {"contradiction"}


# --- the command -------------------------------------------------------------------------------------

TABLE = """\
time,author,text
2026-05-03T10:00:00Z,Wilma Witness,"at 0:25 you should never hold that by hand @OtherName"
2026-05-03T11:00:00Z,Wilma Witness,Lovely 😀 <script>alert(1)</script>
2026-05-04T11:00:00Z,Otto Onlooker,"wear goggles, 0:30"
"""
LOG = "2026-03-04\n09:40 oiled the top with raw linseed\n11:15 drilled for the dowels\n"
SPEECH = """\
1
00:00:00,000 --> 00:00:15,000
Raw linseed on the top, and I oil it twice.

2
00:00:20,000 --> 00:00:38,000
I drill for the dowels and hold it by hand.
"""


@pytest.fixture
def episode(tmp_path: Path) -> Path:
    """Give an episode of a workshop, with comments beside it."""
    folder = tmp_path / "episodes" / "stool"
    folder.mkdir(parents=True)
    (folder / "shop-log.txt").write_text(LOG)
    (folder / "transcript.srt").write_text(SPEECH)
    (tmp_path / "workshop.toml").write_text("")
    (tmp_path / "comments.csv").write_text(TABLE, encoding="utf-8")
    return folder


def ask(run: Run, episode: Path, *words: str) -> tuple[int, str, str]:
    """Run `comments` on the episode and its comments."""
    return run("comments", episode, episode.parents[1] / "comments.csv", *words)


def test_comments_are_listed_worst_first(episode: Path, run: Run) -> None:
    """Safety, then what contradicts, then the rest, each with its step and the words it was placed by."""
    code, out, _ = ask(run, episode)
    assert code == 0
    assert out.index("wear goggles") < out.index("you should never") < out.index("Lovely")
    assert "step 2: drilled for the dowels" in out


def test_one_becomes_a_correction(episode: Path, run: Run) -> None:
    """Its place and what was shown come from the step; then it is decided, and listed no more."""
    words = ("--wrong", "the bit grabs", "--instead", "clamp it", "--signal", "warning", "--id", "held")
    code, _, _ = ask(run, episode, "--correct", "1", *words)
    record = read_ledger(episode.parents[1]).get("held")
    assert code == 0
    assert (record.shown, record.signal) == ("drilled for the dowels", "WARNING")
    assert [place.episode for place in record.places] == ["stool"]
    assert record.places[0].span.start_ms <= 25_000 < record.places[0].span.end_ms
    assert "you should never" not in ask(run, episode)[1]
    assert "decided: correction held" in ask(run, episode, "--all")[1]


def test_one_becomes_a_lesson(episode: Path, run: Run) -> None:
    """A lesson speaks of no place, so nothing is owed for it; the next piece is asked."""
    ask(run, episode, "--lesson", "3", "--wrong", "chips fly", "--instead", "goggles on", "--id", "eyes")
    assert read_ledger(episode.parents[1]).get("eyes").places == ()
    assert "eyes" not in run("owed", episode.parents[1])[1]
    assert "goggles on" in run("lessons", episode.parents[1])[1]


def test_what_is_put_away_stays_away(episode: Path, run: Run) -> None:
    """A later export with more in it, in another order, does not bring it back."""
    ask(run, episode, "--put-away", "2")
    rows = TABLE.splitlines()
    more = [rows[0], "2026-06-01,New One,Hello there", rows[2].upper().replace("LOVELY", "lovely"), rows[1]]
    (episode.parents[1] / "comments.csv").write_text("\n".join(more), encoding="utf-8")
    out = ask(run, episode)[1]
    assert "lovely" not in out.casefold()
    assert "Hello there" in out
    ask(run, episode, "--put-away", "2")
    assert (episode / "comments.toml").read_text().count("[[comment]]") == 1


def test_nothing_of_a_viewer_is_kept_or_shown(episode: Path, run: Run) -> None:
    """Neither names nor mentions reach the screen, the ledger, or what is kept of the comments."""
    shown = [ask(run, episode, *words) for words in ((), ("--json",), ("--put-away", "2"))]
    words = ("--wrong", "it slips", "--instead", "clamp it", "--signal", "warning")
    shown.append(ask(run, episode, "--correct", "1", *words))
    written = [path.read_text() for path in episode.parents[1].rglob("*.toml")]
    told = " ".join([*written, *(part for one in shown for part in map(str, one))])
    for name in ("Wilma", "Witness", "Otto", "OtherName", "Onlooker"):
        assert name not in told
    assert "Lovely" not in (episode / "comments.toml").read_text()


def test_the_document_is_json_alone(episode: Path, run: Run) -> None:
    """With --json there is one document on standard output and nothing else."""
    code, out, err = ask(run, episode, "--json")
    document = json.loads(out)
    assert (code, err, document["schema"]) == (0, "", "reelnotes/comments-1")
    assert [one["worth"] for one in document["comments"]] == ["safety", "contradiction", "other"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--correct", "9"), "no comment 9"),
        (("--correct", "1"), "--wrong"),
        (("--correct", "2", "--wrong", "a", "--instead", "b", "--signal", "notice"), "--span"),
        (("--correct", "1", "--lesson", "2"), "one thing at a time"),
        (("--lesson", "1", "--wrong", "a"), "--instead"),
        (("--lesson", "1", "--wrong", "a", "--instead", "b", "--id", "../x"), "no id"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    episode: Path, run: Run, words: tuple[str, ...], told: str
) -> None:
    """Wrong use is exit code 2 and one sentence, and nothing is written."""
    code, _, err = ask(run, episode, *words)
    assert code == 2
    assert told in err
    assert not (episode / "comments.toml").exists()
    assert not list((episode.parents[1]).glob("corrections/*.toml"))


def test_a_damaged_list_of_decisions_is_told(episode: Path, run: Run) -> None:
    """What was decided before comes back, and the maker hears why."""
    (episode / "comments.toml").write_text("[[comment\n")
    code, out, err = ask(run, episode)
    assert code == 1
    assert "Lovely" in out
    assert "comments.toml" in err


# --- as exports are ----------------------------------------------------------------------------------


def test_answers_inside_a_comment_are_comments() -> None:
    """Answers under an item are read after it, in order; lists of other things are left aside."""
    rows = [
        {
            "text": "one",
            "likedBy": [{"text": "no comment"}],
            "replies": [{"text": "two", "replies": {"comments": [{"body": "three"}]}}, {"name": "A. Person"}],
        },
        {"text": "four", "answers": []},
    ]
    found, problems = read(json.dumps({"video": {"id": 3}, "tags": ["a"], "comments": rows}), "c.json")
    assert (found, problems) == (["one", "two", "three", "four"], [])


def test_a_comment_keeps_its_number_in_the_file() -> None:
    """An item without words counts, so that the numbers are those that one finds by counting."""
    comments, problems = read_comments(SourceText("c", '[{"text": "a"}, {"id": 7}, {"text": "b"}]'))
    assert [one.number for one in comments] == [1, 3]
    assert "item 2" in problems[0].message


@pytest.mark.parametrize("name", ["Published At", "published_at", "publishedAt", "created-at", "Timestamp"])
def test_times_stand_under_many_names(name: str) -> None:
    """Names of two words are read as programs write them, in a table and in JSON."""
    moment = datetime(2026, 5, 3, 10, tzinfo=UTC)
    (row,), _ = read_comments(SourceText("c", f"Comment ID,{name},Comment\nx,2026-05-03T10:00:00Z,nice\n"))
    items = json.dumps([{"id": 1, name: "2026-05-03T10:00:00Z", "comment_text": "nice"}])
    (item,), _ = read_comments(SourceText("c", items))
    assert (row.written, item.written) == (moment, moment)


def test_times_of_another_form_are_told_once() -> None:
    """Three thousand dates of another form are one note and not three thousand."""
    text = "date,text\n" + "14/06/2026 12:30,nice\n" * 3000
    comments, problems = read_comments(SourceText("c", text))
    assert len(comments) == 3000
    assert [problem.severity for problem in problems] == ["note"]
    assert "3000 comments" in problems[0].message


def test_comments_of_signs_alone_are_told_apart() -> None:
    """Where a comment has no words its signs count: putting one heart away leaves the warning."""
    assert digest_of("\u2764\ufe0f") != digest_of("\u26a0\ufe0f")
    assert digest_of("\u2764 \u2764") == digest_of("\u2764\u2764")


def test_no_comment_commands_the_screen(episode: Path, run: Run) -> None:
    """Control characters and turns of direction are taken out; what a viewer writes is words alone."""
    rows = [{"text": "see \x1b[31mred\x07\x9b2J \u202ethe end\u202c"}]
    (comment,), _ = read_comments(SourceText("c", json.dumps(rows)))
    assert comment.text == "see [31mred 2J the end"
    long = episode.parents[1] / "long.json"
    long.write_text(json.dumps([{"text": "word " * 100_000}]))
    out = run("comments", episode, long)[1]
    assert len(out) < 1500
    assert len(json.loads(run("comments", episode, long, "--json")[1])["comments"][0]["text"]) > 400_000


def decided(episode: Path) -> int:
    """Count what is kept of comments."""
    path = episode / "comments.toml"
    return path.read_text().count("[[comment]]") if path.is_file() else 0


def test_the_same_comment_is_put_away_once(episode: Path, run: Run) -> None:
    """Named twice at once, it is kept once."""
    code, out, _ = ask(run, episode, "--put-away", "2", "--put-away", "2")
    assert code == 0
    assert "put away: 2;" in out
    assert decided(episode) == 1


WORDS = ("--wrong", "the bit grabs", "--instead", "clamp it", "--signal", "warning")


@pytest.mark.parametrize("first", [("--correct", "1", *WORDS), ("--put-away", "1")])
@pytest.mark.parametrize("again", ["--correct", "--lesson"])
def test_what_was_decided_is_not_decided_twice(
    episode: Path, run: Run, first: tuple[str, ...], again: str
) -> None:
    """A second record of one comment is refused, with what was done and the way to do it anew."""
    ask(run, episode, *first)
    before = len(read_ledger(episode.parents[1]).records)
    code, _, err = ask(run, episode, again, "1", *WORDS)
    assert code == 2
    assert "decided before" in err
    assert "comments.toml" in err
    assert len(read_ledger(episode.parents[1]).records) == before


def test_nothing_is_recorded_while_decisions_cannot_be_kept(episode: Path, run: Run) -> None:
    """With a damaged comments.toml no record is made, or the comment would come back to be made one."""
    (episode / "comments.toml").write_text("[[comment\n")
    for words in (("--correct", "1", *WORDS), ("--lesson", "3", *WORDS), ("--put-away", "2")):
        code, _, err = ask(run, episode, *words)
        assert code == 2
        assert "mend the file first" in err
    assert not list(episode.parents[1].glob("corrections/*.toml"))
    assert (episode / "comments.toml").read_text() == "[[comment\n"


def test_a_lesson_has_its_topic(episode: Path, run: Run) -> None:
    """The topic given counts, and one that is none is refused."""
    words = (
        "--lesson",
        "3",
        "--shown",
        "x",
        "--wrong",
        "chips fly",
        "--instead",
        "goggles on",
        "--id",
        "eyes",
    )
    assert ask(run, episode, *words, "--topic", "nonsense")[0] == 2
    assert ask(run, episode, *words, "--topic", "eyes-ears")[0] == 0
    assert read_ledger(episode.parents[1]).get("eyes").topic == "eyes-ears"


def test_a_lesson_takes_no_damaged_record_s_place(episode: Path, run: Run) -> None:
    """A file that cannot be read is not written over by a lesson of the same words."""
    torn = episode.parents[1] / "corrections" / "chips.toml"
    torn.parent.mkdir()
    torn.write_text("= torn")
    words = ("--lesson", "3", "--shown", "chips", "--wrong", "chips fly", "--instead", "goggles on")
    assert ask(run, episode, *words)[0] == 0
    assert torn.read_text() == "= torn"
    assert len(list(torn.parent.glob("chips*.toml"))) == 2


def test_a_version_s_folder_decides_for_the_episode(episode: Path, run: Run) -> None:
    """What is decided under versions/1 is kept where it is looked for, and makes no folder."""
    table = episode.parents[1] / "comments.csv"
    assert run("comments", episode / "versions" / "1", table, "--put-away", "2")[0] == 0
    assert decided(episode) == 1
    assert not (episode / "versions").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--wrong", "a"), "--correct N or --lesson N"),
        (("--put-away", "1", "--topic", "dust"), "--correct N or --lesson N"),
        (("--lesson", "1", "--span", "0:01-0:02", *WORDS), "speaks of no place"),
        (("--correct", "0", *WORDS), "no comment 0"),
        (("--put-away", "1", "--put-away", "99"), "go from 1 to 3"),
    ],
)
def test_options_that_say_nothing_are_refused(
    episode: Path, run: Run, words: tuple[str, ...], told: str
) -> None:
    """What would be passed over in silence is wrong use: exit code 2, one sentence, nothing kept."""
    code, out, err = ask(run, episode, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert told in err
    assert decided(episode) == 0
