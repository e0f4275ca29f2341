"""correct, insert, owed and lessons as commands: what they write, print and refuse."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from reelnotes.cli import main
from reelnotes.corrections.ledger import read_record
from reelnotes.model import Correction
from reelnotes.store import SourceText

LOG = """\
2026-03-04
09:40 glued the top into its frame all round, hide glue, 6 clamps
11:15 ripped the rail on the table saw, guard off
14:15 rush on, soaked 10 min
"""
SPEECH = """\
1
00:00:05,000 --> 00:00:12,000
The top goes into its frame with hide glue all round and six clamps.

2
00:01:00,000 --> 00:01:08,000
I rip the rail on the table saw, and I took the guard off to see better.

3
00:02:00,000 --> 00:02:08,000
Now the seat rush, soaked for ten minutes.

4
00:02:30,000 --> 00:02:40,000
And that is the stool done.
"""
NEXT_LOG = "2026-05-01\n10:00 glued the top in, all round its frame\n11:00 lunch\n"
SHELF = "name,pack,unit,price,kind,notes,given,cautions\nSeat rush,2,kg,34,other,,given by the grower,\n"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Give a workshop with two episodes: one published, one still in the log."""
    for name, log in (("oak", LOG), ("elm", NEXT_LOG)):
        folder = tmp_path / "episodes" / name
        folder.mkdir(parents=True)
        (folder / "shop-log.txt").write_text(log)
    (tmp_path / "episodes" / "oak" / "transcript.srt").write_text(SPEECH)
    (tmp_path / "episodes" / "oak" / "episode.toml").write_text('frame_rate = "30000/1001"\n')
    (tmp_path / "workshop.toml").write_text('name = "The signal box"\n')
    (tmp_path / "shelf.csv").write_text(SHELF)
    return tmp_path


def run(*words: str | Path) -> int:
    """Run the command line in this process and give its exit code."""
    before = sys.argv
    sys.argv = ["reelnotes", *map(str, words)]
    try:
        main()
    except SystemExit as leave:
        return int(leave.code or 0)
    finally:
        sys.argv = before
    return 0


def correct(shop: Path, *words: str, episode: str = "oak") -> int:
    """Record the mistake of this workshop, with further words."""
    said = ("--shown", "the top glued in all round", "--wrong", "the frame will split")
    more = ("--instead", "screw it on through slots", "--signal", "notice")
    return run("correct", shop / "episodes" / episode, "--span", "0:05-0:12", *said, *more, *words)


def record_of(shop: Path, name: str) -> Correction:
    path = shop / "corrections" / f"{name}.toml"
    record, problems = read_record(SourceText(path.name, path.read_text("utf-8")), name)
    assert problems == []
    assert record
    return record


def printed(capsys: pytest.CaptureFixture[str]) -> Any:  # noqa: ANN401 - JSON
    return json.loads(capsys.readouterr().out)


def refused(capsys: pytest.CaptureFixture[str], said: str) -> None:
    """Hold that one sentence was printed, and no more."""
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.startswith("reelnotes: ")
    assert captured.err.count("\n") == 1
    assert said in captured.err


# --- correct -----------------------------------------------------------------------------------------


def test_the_line_that_must_work_as_it_stands(shop: Path) -> None:
    """All that was said is in the record, under the id that was given."""
    assert correct(shop, "--topic", "wood-movement", "--id", "top") == 0
    record = record_of(shop, "top")
    assert (record.shown, record.signal, record.topic) == (
        "the top glued in all round",
        "NOTICE",
        "wood-movement",
    )
    (place,) = record.places
    assert (place.episode, place.version, place.span.start_ms, place.span.end_ms) == ("oak", 1, 5000, 12_000)
    assert record.recorded
    assert record.history == (f"{record.recorded} recorded",)


def test_several_spans_evidence_and_sources_are_kept(shop: Path) -> None:
    """Each in its order; a bench computation is cited by its line, with its answer of the day."""
    cite = "bench:movement?wood=white+oak&width=420mm&rh=35+75"
    words = ("--evidence", cite, "--evidence", "seen in May", "--source", "a handbook")
    assert correct(shop, "--span", "1:00-1:08", "--id", "top", *words) == 0
    record = record_of(shop, "top")
    assert [place.span.start_ms for place in record.places] == [5000, 60_000]
    answer = "white oak, flat-sawn, 420 mm wide: moves about 11.5 mm (7/16 in) between 35 % and 75 % humidity"
    answer += " (7.0 to 14.5 % moisture content); an estimate."
    assert record.evidence == (f"{cite} gave: {answer}", "seen in May")
    assert record.sources == ("a handbook",)


def test_an_id_is_made_from_the_words(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And printed with the file, as JSON too."""
    assert correct(shop, "--json") == 0
    document = printed(capsys)
    assert document["record"]["id"] == "top-glued-all-round"
    assert Path(document["file"]) == shop / "corrections" / "top-glued-all-round.toml"


def test_a_record_for_a_loose_folder_lies_in_it(shop: Path) -> None:
    """Without a workshop above, the episode's own folder holds the ledger."""
    loose = shop.parent / f"{shop.name}-loose"
    loose.mkdir()
    (loose / "transcript.srt").write_text(SPEECH)
    words = ("--shown", "x", "--wrong", "y", "--instead", "z", "--signal", "WARNING", "--id", "x")
    assert run("correct", loose, "--span", "0:05-0:12", *words) == 0
    assert (loose / "corrections" / "x.toml").is_file()


@pytest.mark.parametrize(
    ("span", "said"),
    [
        ("2:30-2:41", "lies outside the programme, which ends at 2:40"),
        ("20:00-20:10", 'set length = "15:20" in episode.toml'),
        ("0:12-0:05", "the end after the start"),
        ("0:12-0:12", "the end after the start"),
        ("0:05", "0:05"),
        ("five-six", "is not a time"),
    ],
)
def test_a_span_that_cannot_be_is_refused(
    shop: Path, capsys: pytest.CaptureFixture[str], span: str, said: str
) -> None:
    """Outside the programme, end before start, no span at all: one sentence, and no file."""
    words = ("--shown", "x", "--wrong", "y", "--instead", "z", "--signal", "notice")
    assert run("correct", shop / "episodes" / "oak", "--span", span, *words) == 2
    refused(capsys, said)
    assert not list(shop.glob("corrections/*.toml"))


def test_a_span_to_the_very_end_is_taken(shop: Path) -> None:
    """2:40 is the end of the last caption."""
    assert correct(shop, "--span", "2:30-2:40") == 0


def test_a_longer_programme_can_be_told(shop: Path) -> None:
    """`length` in episode.toml: what goes on after the last word has places too."""
    settings = shop / "episodes" / "oak" / "episode.toml"
    settings.write_text('length = "3:00"\n')
    assert correct(shop, "--span", "2:50-3:00") == 0
    assert correct(shop, "--span", "2:50-3:01", "--id", "b") == 2


def test_an_episode_without_a_programme_takes_any_span(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The log alone tells no length; a note says that the span was not checked."""
    assert correct(shop, "--span", "1:00:00-1:00:05", episode="elm") == 0
    assert "was not checked" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--signal", "loud"), "--signal loud: there is danger, warning, caution, notice"),
        (("--topic", "wood-movment"), "did you mean wood-movement?"),
        (("--id", "../evil"), "is no id"),
        (("--shown", "  "), "--shown is missing"),
        (("--evidence", "bench:magic?x=1"), "names no bench computation"),
        (("--caution", "0000", "--disclose", "Seat rush"), "does not go with"),
        (("--again", "top"), "--again does not go with --shown"),
    ],
)
def test_words_that_cannot_be_are_refused(
    shop: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    """One sentence with the way out, and no file."""
    assert correct(shop, *words) == 2
    refused(capsys, said)
    assert not list(shop.glob("corrections/*.toml"))


@pytest.mark.parametrize("option", ["--span", "--shown", "--wrong", "--instead", "--signal"])
def test_each_missing_word_is_asked_for(shop: Path, capsys: pytest.CaptureFixture[str], option: str) -> None:
    """By the name of its option."""
    said = {"--span": "0:05-0:12", "--shown": "x", "--wrong": "y", "--instead": "z", "--signal": "notice"}
    words = [word for pair in said.items() if pair[0] != option for word in pair]
    assert run("correct", shop / "episodes" / "oak", *words) == 2
    refused(capsys, f"{option} is missing")


def test_an_unknown_episode_is_refused(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No folder, no record."""
    assert correct(shop, episode="ash") == 2
    refused(capsys, "there is no such folder")


def test_an_id_that_exists_is_refused_whatever_its_case(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The record that is there stays as it is, to the byte."""
    correct(shop, "--id", "top")
    before = (shop / "corrections" / "top.toml").read_bytes()
    capsys.readouterr()
    assert correct(shop, "--id", "TOP") == 2
    refused(capsys, "there is a record 'top' already")
    assert (shop / "corrections" / "top.toml").read_bytes() == before


def test_the_id_of_a_damaged_record_is_taken_too(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that cannot be read is not written over."""
    (shop / "corrections").mkdir()
    (shop / "corrections" / "top.toml").write_text("shown = ")
    assert correct(shop, "--id", "top") == 2
    refused(capsys, "already")
    assert (shop / "corrections" / "top.toml").read_text() == "shown = "


def test_the_same_words_twice_are_refused(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The way on is a further place."""
    correct(shop)
    capsys.readouterr()
    assert correct(shop) == 2
    refused(capsys, "--again top-glued-all-round")


def test_again_adds_places_in_any_episode(shop: Path) -> None:
    """Once each; a place that is there already is not added twice."""
    correct(shop, "--id", "top")
    for _ in range(2):
        assert run("correct", shop / "episodes" / "elm", "--span", "1:00-1:05", "--again", "top") == 0
    record = record_of(shop, "top")
    assert [(place.episode, place.span.start_ms) for place in record.places] == [
        ("oak", 5000),
        ("elm", 60_000),
    ]
    assert len(record.history) == 2


@pytest.mark.parametrize("signal", ["warning", "danger"])
def test_the_topic_is_read_out_of_the_words(
    shop: Path, capsys: pytest.CaptureFixture[str], signal: str
) -> None:
    """And the maker is told that it was; a maker may take it more seriously than our rules do."""
    words = ("--wrong", "an open blade can take fingers off", "--instead", "leave the guard on")
    shown = ("--shown", "I ripped the rail on the table saw with the guard taken off")
    oak = shop / "episodes" / "oak"
    assert (
        run("correct", oak, "--span", "1:00-1:08", *shown, *words, "--signal", signal, "--id", "guard") == 0
    )
    assert record_of(shop, "guard").topic == "missing-guard"
    assert "read out of the words" in capsys.readouterr().out


# --- cautions and disclosures ------------------------------------------------------------------------


def flags_of(shop: Path, capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    capsys.readouterr()
    run("draft", shop / "episodes" / "oak", "--json")
    flags: list[dict[str, Any]] = printed(capsys)["flags"]
    return flags


def test_a_flag_becomes_a_caution(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With its topic, signal word, reason, usual caution, source and place."""
    flag = next(flag for flag in flags_of(shop, capsys) if flag["topic"] == "missing-guard")
    assert run("correct", shop / "episodes" / "oak", "--caution", flag["id"], "--id", "guard") == 0
    record = record_of(shop, "guard")
    assert (record.kind, record.flag, record.topic, record.signal) == (
        "caution", flag["id"], "missing-guard", flag["signal"],
    )  # fmt: skip
    assert record.shown == flag["why"]
    assert flag["caution"].startswith(record.instead[:20])
    assert "codes" not in record.instead
    assert record.places[0].span.start_ms == flag["start_s"] * 1000


def test_an_unknown_flag_is_refused(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With where ids are told."""
    assert run("correct", shop / "episodes" / "oak", "--caution", "beef") == 2
    refused(capsys, "out/flags.md gives the id of each")


def test_a_given_product_can_be_disclosed(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its name, where it is first named; one that owes nothing is refused."""
    oak = shop / "episodes" / "oak"
    assert run("correct", oak, "--disclose", "seat RUSH") == 0
    record = record_of(shop, "given-seat-rush")
    assert (record.kind, record.instead) == ("disclosure", "Seat rush: given by the grower, not paid for")
    assert record.places[0].span.start_ms == 120_000
    capsys.readouterr()
    assert run("correct", oak, "--disclose", "hide glue") == 2
    refused(capsys, "those that do: Seat rush")


# --- insert ------------------------------------------------------------------------------------------


def test_insert_writes_cards_texts_and_tracks(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On frames of the programme, drop-frame included; the disclosure that is owed comes by itself."""
    correct(shop, "--id", "top")
    capsys.readouterr()
    run("insert", shop / "episodes" / "oak", "--json")
    document = printed(capsys)
    assert [one["of"] for one in document["inserts"]] == ["top", "given-seat-rush"]
    assert document["frame_rate"] == "30000/1001"
    assert document["inserts"][0]["cards"][0]["start_timecode"].startswith("00:00:0")
    assert ";" in document["inserts"][0]["cards"][0]["start_timecode"]
    folder = shop / "episodes" / "oak" / "out" / "inserts"
    written = {path.name for path in folder.iterdir()}
    assert {
        "inserts.json", "inserts.txt", "description.txt", "pinned-note.txt", "end-note.txt",
        "captions.srt", "captions.vtt", "captions.ttml", "inserts.vtt",
    } <= written  # fmt: skip
    assert (folder / "description.txt").read_text("utf-8").startswith("CORRECTION (NOTICE) at 0:05")


def test_insert_writes_where_it_is_told(shop: Path, tmp_path: Path) -> None:
    """With --out, nothing in the episode's own folder."""
    correct(shop, "--id", "top")
    run("insert", shop / "episodes" / "oak", "--out", tmp_path / "away")
    assert (tmp_path / "away" / "inserts.json").is_file()
    assert not (shop / "episodes" / "oak" / "out").exists()


def test_burning_needs_both_names(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--burn without --to, and the other way round."""
    for option in ("--burn", "--to"):
        assert run("insert", shop / "episodes" / "oak", option, shop / "in.mp4") == 2
        refused(capsys, "go together")


def test_nothing_to_insert_is_no_mistake(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An episode that the ledger does not speak of and that owes no disclosure."""
    assert run("insert", shop / "episodes" / "elm") == 0
    assert "No inserts" in capsys.readouterr().out


# --- owed --------------------------------------------------------------------------------------------


def test_owed_lists_the_worst_first_and_what_to_publish(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the places where it is missing, and the text for them."""
    correct(shop, "--id", "top")
    correct(shop, "--id", "guard", "--signal", "danger", "--shown", "the guard taken off")
    capsys.readouterr()
    assert run("owed", shop, "--json") == 0
    owed = printed(capsys)["owed"]
    assert [one["record"]["id"] for one in owed] == ["guard", "top"]
    assert owed[0]["missing"][0] == "in-picture"
    assert owed[0]["text"].startswith("CORRECTION (DANGER) at 0:05")
    assert run("owed", shop) == 0
    out = capsys.readouterr().out
    assert out.index("guard") < out.index("NOTICE")
    assert "--done guard --where in-picture" in out


def test_marking_records_the_day_and_ends_the_debt(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the picture: no more owed; elsewhere: owed still, with one place less."""
    correct(shop, "--id", "top")
    assert run("owed", shop, "--done", "top", "--where", "description", "--on", "2026-03-20") == 0
    capsys.readouterr()
    run("owed", shop, "--json")
    (one,) = printed(capsys)["owed"]
    assert "description" not in one["missing"]
    assert one["reached"] == [{"where": "description", "on": "2026-03-20"}]
    assert run("owed", shop, "--done", "top", "--where", "in-picture", "--on", "2026-03-28") == 0
    capsys.readouterr()
    assert run("owed", shop) == 0
    assert "Nothing is owed" in capsys.readouterr().out
    record = record_of(shop, "top")
    assert [(r.where, str(r.on)) for r in record.reach] == [
        ("description", "2026-03-20"), ("in-picture", "2026-03-28"),
    ]  # fmt: skip
    assert record.history[-1] == "2026-03-28 published: in-picture, oak"


def test_marking_twice_changes_nothing(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first day stays."""
    correct(shop, "--id", "top")
    run("owed", shop, "--done", "top", "--where", "roundup", "--on", "2026-03-20")
    before = (shop / "corrections" / "top.toml").read_bytes()
    capsys.readouterr()
    assert run("owed", shop, "--done", "top", "--where", "roundup") == 0
    assert "already" in capsys.readouterr().out
    assert (shop / "corrections" / "top.toml").read_bytes() == before


def test_one_episode_can_be_marked_alone(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The other owes still."""
    correct(shop, "--id", "top")
    run("correct", shop / "episodes" / "elm", "--span", "1:00-1:05", "--again", "top")
    run("owed", shop, "--done", "top", "--where", "in-picture", "--episode", "oak")
    capsys.readouterr()
    run("owed", shop, "--json")
    assert [one["episode"] for one in printed(capsys)["owed"]] == ["elm"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--done", "tpo", "--where", "roundup"), "did you mean top?"),
        (("--done", "top", "--where", "radio"), "there is in-picture"),
        (("--done", "top"), "--where is missing"),
        (("--where", "roundup"), "--done is missing"),
        (("--done", "top", "--where", "roundup", "--on", "soon"), "is no day"),
        (("--done", "top", "--where", "roundup", "--episode", "ash"), "has no episode 'ash'"),
    ],
)
def test_what_cannot_be_marked_is_refused(
    shop: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str
) -> None:
    """One sentence, and the record stays as it is."""
    correct(shop, "--id", "top")
    before = (shop / "corrections" / "top.toml").read_bytes()
    capsys.readouterr()
    assert run("owed", shop, *words) == 2
    refused(capsys, said)
    assert (shop / "corrections" / "top.toml").read_bytes() == before


def test_a_record_without_a_place_cannot_be_marked(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It belongs to no episode; the way out is said."""
    (shop / "corrections").mkdir()
    words = 'signal = "NOTICE"\nshown = "x"\nwrong = "y"\ninstead = "z"\n'
    (shop / "corrections" / "top.toml").write_text(words)
    assert run("owed", shop, "--done", "top", "--where", "roundup") == 2
    refused(capsys, "names no [[place]]")


def test_a_damaged_record_is_reported_and_the_others_are_owed(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1, with the line."""
    correct(shop, "--id", "top")
    (shop / "corrections" / "bad.toml").write_text('shown = "x"\nwrong = \n')
    capsys.readouterr()
    assert run("owed", shop) == 1
    captured = capsys.readouterr()
    assert "top" in captured.out
    assert "corrections/bad.toml:2:" in captured.err


def test_an_episode_that_is_not_there_is_reported(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record may name an episode that was moved or misspelt."""
    correct(shop, "--id", "top")
    path = shop / "corrections" / "top.toml"
    path.write_text(path.read_text().replace('"oak"', '"oka"'))
    capsys.readouterr()
    assert run("owed", shop) == 1
    assert "names the episode oka" in capsys.readouterr().err


# --- lessons -----------------------------------------------------------------------------------------


def test_lessons_answer_planned_steps_and_a_growing_log(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In words on the command line, or from the log of the next episode."""
    correct(shop, "--id", "top")
    capsys.readouterr()
    assert run("lessons", shop, "glue the top into its frame", "lunch") == 0
    out = capsys.readouterr().out
    assert "screw it on through slots" in out
    assert "lunch" not in out
    assert run("lessons", shop, "--episode", "elm", "--json") == 0
    (lesson,) = printed(capsys)["lessons"]
    assert lesson["steps"][0]["text"] == "glued the top in, all round its frame"
    assert run("lessons", shop, "lunch") == 0
    assert "Nothing to check" in capsys.readouterr().out


def test_an_episode_does_not_learn_from_itself(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The log of the mistake brings up no lesson from it."""
    correct(shop, "--id", "top")
    capsys.readouterr()
    run("lessons", shop, "--episode", "oak", "--json")
    assert printed(capsys)["lessons"] == []


def test_lessons_for_an_unknown_episode_are_refused(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the nearest name."""
    assert run("lessons", shop, "--episode", "ol") == 2
    refused(capsys, "has no episode 'ol'")


def test_draft_flags_a_step_that_repeats_a_correction(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And names it; without records there is no such flag."""

    def repeats() -> list[str]:
        capsys.readouterr()
        run("draft", shop / "episodes" / "elm", "--json")
        return [flag["why"] for flag in printed(capsys)["flags"] if "the correction" in flag["why"]]

    assert repeats() == []
    correct(shop, "--id", "top", "--topic", "wood-movement")
    (why,) = repeats()
    assert "the correction top (oak 0:05)" in why


def test_draft_names_a_correction_without_a_topic_too(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As a problem, because a flag needs a topic."""
    correct(shop, "--id", "top", "--topic", "wood-movement")
    path = shop / "corrections" / "top.toml"
    path.write_text(path.read_text().replace('topic = "wood-movement"\n', ""))
    capsys.readouterr()
    assert run("draft", shop / "episodes" / "elm", "--json") == 1
    codes = [p["code"] for p in printed(capsys)["problems"]]
    assert "correction-repeated" in codes
