"""The roundup as a command: its files read by other programs' readers, and its marks in the ledger."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import jsonschema
import opentimelineio as otio
import pytest
import webvtt
from lxml import html

from reelnotes.pipeline.ledger import read_ledger
from reelnotes.timing import Span
from reelnotes.write.roundup_timeline import Shot, roundup_otio, talk_frames
from reelnotes.write.rundown import also_text

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "reelnotes" / "write" / "templates"
DAY = "2026-06-01"
SPEECH = "\n".join(
    f"{n + 1}\n00:{n // 6:02}:{n % 6 * 10:02},000 --> 00:{n // 6:02}:{n % 6 * 10 + 8:02},000\n"
    "I glue the top all round and clamp it with six clamps and then I wait for it to dry out.\n"
    for n in range(30)
)

Run = Callable[..., tuple[int, str, str]]
RECORDS = {
    "glued": ("NOTICE", "wood-movement", "oak", "0:20-0:30", "Glued the top all round"),
    "guard": ("DANGER", "missing-guard", "oak", "1:00-1:12", "Ripped with the guard off"),
    "rags": ("WARNING", "rag-fire", "elm", "0:10-0:20", "Oily rags in a bin <b>& a lid"),
}


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Give a workshop with two episodes and three corrections."""
    for slug, rate in (("oak", "25"), ("elm", "25")):
        folder = tmp_path / "episodes" / slug
        folder.mkdir(parents=True)
        (folder / "shop-log.txt").write_text("2026-03-04\n09:40 glued the top all round, 6 clamps\n")
        (folder / "transcript.srt").write_text(SPEECH)
        (folder / "episode.toml").write_text(
            f'title = "The {slug}"\nframe_rate = "{rate}"\naddress = "https://video.example/{slug}"\n'
        )
    (tmp_path / "workshop.toml").write_text('name = "The signal box"\n')
    (tmp_path / "corrections").mkdir()
    for name, (signal, topic, slug, span, shown) in RECORDS.items():
        (tmp_path / "corrections" / f"{name}.toml").write_text(
            f'recorded = 2026-04-0{1 + len(name) % 5}\nsignal = "{signal}"\ntopic = "{topic}"\n'
            f'shown = "{shown}"\n'
            f'wrong = "somebody pays for it"\ninstead = "do it right"\n\n'
            f'[[place]]\nepisode = "{slug}"\nversion = 1\nspan = "{span}"\n'
        )
    return tmp_path


def made(run: Run, shop: Path, *words: str) -> dict[str, Any]:
    """Make a roundup and give its record."""
    code, out, _ = run("roundup", shop, "--on", DAY, "--json", *words)
    assert code == 0
    document: dict[str, Any] = json.loads(out)
    return document


def file(shop: Path, name: str) -> str:
    """Give the text of a file of the roundup."""
    return (shop / "roundups" / DAY / name).read_text("utf-8")


def test_the_running_order_is_printed_with_its_clock(shop: Path, run: Run) -> None:
    """Worst first, each with the time at which it begins, and the page to read from."""
    code, out, _ = run("roundup", shop, "--on", DAY)
    assert code == 0
    assert re.findall(r"^ *\d\. +(\d+:\d\d)  (\w+)", out, re.MULTILINE)[0] == ("0:00", "DANGER")
    assert out.index("guard:") < out.index("rags:") < out.index("glued:")
    assert "rundown.html" in out


def test_the_record_is_what_its_schema_says(shop: Path, run: Run) -> None:
    """roundup.json holds to the published schema (JSON Schema 2020-12, by the jsonschema library)."""
    made(run, shop)
    schema = json.loads((ROOT / "docs" / "schemas" / "roundup-1.json").read_text("utf-8"))
    jsonschema.Draft202012Validator(schema).validate(json.loads(file(shop, "roundup.json")))


def test_the_timeline_reads_back(shop: Path, run: Run) -> None:
    """OpenTimelineIO's own reader finds the clips at their times, with handles and room for the talk."""
    items = made(run, shop)["items"]
    timeline = otio.adapters.read_from_string(file(shop, "clips.otio"), "otio_json")
    (track,) = timeline.tracks
    clips = [part for part in track if isinstance(part, otio.schema.Clip)]
    gaps = [part for part in track if isinstance(part, otio.schema.Gap)]
    assert [clip.name for clip in clips] == ["oak", "elm", "oak"]
    for clip, gap, item in zip(clips, gaps, items, strict=True):
        assert clip.source_range.start_time.to_seconds() == item["clip"]["start_s"]
        assert clip.source_range.duration.to_seconds() == item["clip_s"]
        assert clip.media_reference.available_range.contains(clip.source_range)
        assert gap.source_range.duration.to_seconds() == pytest.approx(item["talk_s"], abs=0.081)
        assert item["said"][0]["text"] in gap.markers[0].metadata["reelnotes"]["say"]


def test_the_list_of_cuts_reads_back(shop: Path, run: Run) -> None:
    """The CMX 3600 reader of the OpenTimelineIO project finds every clip's source time and its place."""
    items = made(run, shop)["items"]
    (track,) = otio.adapters.read_from_string(file(shop, "clips.edl"), "cmx_3600", rate=25).tracks
    clips = [part for part in track if isinstance(part, otio.schema.Clip)]
    assert [clip.name for clip in clips] == [item["episode"] for item in items]
    for clip, item in zip(clips, items, strict=True):
        assert clip.source_range.start_time.to_seconds() == item["clip"]["start_s"]
        assert clip.range_in_parent().start_time.to_seconds() == pytest.approx(item["starts_s"], abs=0.041)


def test_the_chapters_are_those_of_the_running_clock(shop: Path, run: Run) -> None:
    """A chapter a correction, the first at 0:00, read by webvtt-py; the text form has the same times."""
    items = made(run, shop)["items"]
    chapters = webvtt.read(str(shop / "roundups" / DAY / "chapters.vtt"))
    assert [c.start_in_seconds for c in chapters.captions] == [int(item["starts_s"]) for item in items]
    assert file(shop, "chapters.txt").startswith("0:00 Ripped with the guard off\n")
    assert "https://video.example/oak" in file(shop, "description.txt")


def test_every_source_episode_gets_its_texts(shop: Path, run: Run) -> None:
    """The patch to each episode's description stands at its top, and there is a note to pin."""
    made(run, shop)
    for slug, shown in (("oak", "Ripped with the guard off"), ("elm", "Oily rags")):
        assert file(shop, f"episodes/{slug}/description.txt").startswith("CORRECTION")
        assert shown in file(shop, f"episodes/{slug}/pinned-note.txt")


def test_the_script_says_all_four_parts_and_defers(shop: Path, run: Run) -> None:
    """What happened, why, what instead; where somebody can be hurt, codes and licensed practice first."""
    items = made(run, shop)["items"]
    script = file(shop, "script.txt")
    assert [said["part"] for said in items[0]["said"]] == ["happened", "wrong", "instead", "careful"]
    assert [said["part"] for said in items[2]["said"]] == ["happened", "wrong", "instead"]
    for item in items:
        for said in item["said"]:
            assert said["text"] in script
    assert "licensed practice" in items[0]["said"][-1]["text"]


def test_what_the_arithmetic_shows_is_worked_out_on_the_day(shop: Path, run: Run) -> None:
    """A record that cites the bench is told with the number of today, here that of the Wood Handbook.

    Wood Handbook, chapter 13: a white fir board 232 mm wide, from 8 to 11 % moisture, moves 1.7 mm.
    """
    path = shop / "corrections" / "glued.toml"
    cite = "bench:movement?wood=white+fir&width=232mm&cut=flat&temp=20C&moisture=8+11"
    path.write_text(path.read_text().replace("instead =", f'evidence = ["{cite}"]\ninstead =', 1))
    said = {one["part"]: one["text"] for one in made(run, shop, "--only", "glued")["items"][0]["said"]}
    assert re.search(r"1\.7\d* mm|232\.0 to 233\.7 mm", said["shown by"])


# --- the page ------------------------------------------------------------------------------------------


def test_the_page_fetches_nothing_and_escapes_words(shop: Path, run: Run) -> None:
    """One file, no script, no address but the maker's own; a tag in a correction is text."""
    made(run, shop)
    text = file(shop, "rundown.html")
    page = html.document_fromstring(text)
    assert page.xpath("//script | //link | //img | //iframe") == []
    assert set(re.findall(r"https?://[\w.]+", text)) == {"https://video.example"}
    assert page.xpath("//b") == []
    assert "<b>& a lid" in page.text_content()


def test_the_page_can_be_walked_without_a_pointer(shop: Path, run: Run) -> None:
    """A language, one first heading, one for each correction, a label for each box, links that lead on."""
    made(run, shop)
    page = html.document_fromstring(file(shop, "rundown.html"))
    assert page.get("lang") == "en"
    assert (len(page.xpath("//h1")), len(page.xpath("//h2"))) == (1, 3)
    assert len(page.xpath("//label[.//input]")) == len(page.xpath("//input"))
    for link in page.xpath("//a[starts-with(@href, '#')]/@href"):
        assert page.get_element_by_id(link[1:]) is not None


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    ("ink", "ground"), [("ink", "paper"), ("soft", "paper"), ("link", "paper"), ("soft", "card")]
)
def test_every_word_stands_out(scheme: str, ink: str, ground: str) -> None:
    """Text has 4.5:1 at least against its ground (WCAG 2.2, 1.4.3), what is read out 7:1 (1.4.6)."""
    style = (TEMPLATES / "rundown.css").read_text("utf-8")
    light, dark = style.split("@media (prefers-color-scheme: dark)")
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", light))
    if scheme == "dark":
        colours |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", dark.split("}")[0]))
    low, high = sorted(luminance(colours[name]) for name in (ink, ground))
    assert (high + 0.05) / (low + 0.05) >= (7 if ink == "ink" else 4.5)


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition)."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


# --- by hand, done, refused ----------------------------------------------------------------------------


def test_the_makers_order_outlives_a_rerun(shop: Path, run: Run) -> None:
    """--order is kept in order.txt and counts on the next run; a line there that is no record is told."""
    ids = [item["id"] for item in made(run, shop, "--order", "glued,rags")["items"]]
    assert ids == ["glued", "rags", "guard"]
    assert [item["id"] for item in made(run, shop)["items"]] == ids
    with (shop / "roundups" / DAY / "order.txt").open("a") as order:
        order.write("no-such-thing\n")
    code, _, err = run("roundup", shop, "--on", DAY)
    assert code == 1
    assert "order.txt:4" in err


def test_publishing_marks_the_reach_of_each(shop: Path, run: Run) -> None:
    """--done marks every correction for its episodes, once; the next roundup leaves them out."""
    made(run, shop)
    code, out, _ = run("roundup", shop, "--done", "--on", "2026-06-05")
    assert (code, out.count("marked  ")) == (0, 3)
    for record in read_ledger(shop).records:
        assert [(r.where, str(r.on)) for r in record.reach] == [("roundup", "2026-06-05")]
    _, owing, _ = run("owed", shop, "--json")
    assert all("roundup" not in one["missing"] for one in json.loads(owing)["owed"])
    assert "marked before" in run("roundup", shop, "--done")[1]
    code, out, _ = run("roundup", shop, "--on", "2026-07-01")
    assert (code, "no correction is chosen" in out) == (0, True)
    assert not (shop / "roundups" / "2026-07-01").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--since", "spring"), "2026-03-28"),
        (("--topic", "rags"), "rag-fire"),
        (("--signal", "loud"), "notice"),
        (("--only", "glud"), "did you mean glued?"),
        (("--order", "guard,glud"), "did you mean glued?"),
        (("--done",), "holds no roundup"),
    ],
)
def test_what_cannot_be_made_is_one_sentence(shop: Path, run: Run, words: tuple[str, ...], told: str) -> None:
    """Wrong use is exit code 2, one sentence, and nothing written."""
    code, out, err = run("roundup", shop, *words)
    assert (code, out) == (2, "")
    assert told in err
    assert not (shop / "roundups").exists()


def test_other_frame_rates_are_told(shop: Path, run: Run) -> None:
    """An episode of another rate than most of the clips is named: the editing program has to convert it."""
    path = shop / "episodes" / "elm" / "episode.toml"
    path.write_text(path.read_text().replace('"25"', '"30000/1001"'))
    _, _, err = run("roundup", shop, "--on", DAY)
    assert "elm: another frame rate" in err
    path.write_text('title = "The elm"\n')
    (shop / "episodes" / "oak" / "episode.toml").write_text('title = "The oak"\n')
    assert "25 frames a second" in run("roundup", shop, "--on", DAY)[2]


def test_an_episode_that_is_gone_leaves_its_correction(shop: Path, run: Run) -> None:
    """A correction of an episode that is not there any more is told without a clip, and said."""
    import shutil

    shutil.rmtree(shop / "episodes" / "elm")
    code, out, err = run("roundup", shop, "--on", DAY)
    assert code == 1
    assert "rags: no clip" in out
    assert "elm" in err


def test_the_address_is_kept_and_pointed_to(shop: Path, run: Run) -> None:
    """--address stands in the history of each record and once in each note to pin; the rest stays."""
    made(run, shop)
    before = file(shop, "episodes/oak/pinned-note.txt")
    address = "https://video.example/corrections"
    for _ in range(2):
        assert run("roundup", shop, "--done", "--on", "2026-06-05", "--address", address)[0] == 0
    after = file(shop, "episodes/oak/pinned-note.txt")
    assert after.startswith(before.rstrip())
    assert after.count(address) == 1
    assert all(record.history[-1].endswith(f"at {address}") for record in read_ledger(shop).records)


@pytest.mark.parametrize("address", ["video.example/x", "https://", "https:// x"])
def test_what_is_no_address_marks_nothing(shop: Path, run: Run, address: str) -> None:
    """An address that nobody could follow is refused before the ledger is touched."""
    made(run, shop)
    code, _, err = run("roundup", shop, "--done", "--address", address)
    assert (code, "is no address" in err) == (2, True)
    assert not any(record.reach for record in read_ledger(shop).records)


@pytest.mark.parametrize(("removed", "told"), [("0:25-0:28", "cut shorter"), ("0:19-0:31", "cut out since")])
def test_what_was_cut_since_is_told(shop: Path, run: Run, removed: str, told: str) -> None:
    """A place that a later version lacks is dropped and said; one that is shorter there is shown and said."""
    assert run("recut", shop / "episodes" / "oak", "--remove", removed)[0] == 0
    _, out, err = run("roundup", shop, "--on", DAY)
    assert f"glued: oak, 0:20–0:30 of version 1, was {told}" in err
    assert ("glued: no clip" in out) == (told == "cut out since")


def test_nothing_is_told_of_what_was_not_cut(shop: Path, run: Run) -> None:
    """A cut elsewhere moves the clip and says nothing."""
    assert run("recut", shop / "episodes" / "oak", "--remove", "0:02-0:06")[0] == 0
    _, out, err = run("roundup", shop, "--on", DAY)
    assert "cut" not in err
    assert "glued: oak, 0:16–0:26" in out


LESSON = 'recorded = 2026-04-01\nsignal = "NOTICE"\nshown = "s"\nwrong = "w"\ninstead = "i"\n'


def test_a_lesson_does_not_stand_in_the_way(shop: Path, run: Run) -> None:
    """A record that speaks of no place is in no roundup, and all others are marked."""
    (shop / "corrections" / "lesson.toml").write_text(LESSON)
    assert "lesson" not in {item["id"] for item in made(run, shop)["items"]}
    code, out, _ = run("roundup", shop, "--done", "--on", DAY)
    assert code == 0
    assert "3 marked" in out


def test_what_is_gone_since_is_told_and_the_rest_is_marked(shop: Path, run: Run) -> None:
    """A record that was deleted or damaged after the roundup was made costs the others nothing."""
    made(run, shop)
    (shop / "corrections" / "guard.toml").unlink()
    (shop / "corrections" / "rags.toml").write_text("= torn")
    code, out, _ = run("roundup", shop, "--done", "--on", DAY, "--json")
    document = json.loads(out)
    assert code == 1
    assert document["marked"] == ["glued"]
    assert [p["message"].split()[0] for p in document["problems"]] == ["guard", "rags"]


def test_the_description_leads_to_the_beginning_of_an_episode(shop: Path, run: Run) -> None:
    """An address with a place for the time in it is written out, so that it can be followed."""
    about = shop / "episodes" / "oak" / "episode.toml"
    about.write_text(about.read_text().replace("example/oak", "example/oak?from={s}"))
    made(run, shop)
    assert "https://video.example/oak?from=0\n" in file(shop, "description.txt")
    assert "{s}" not in file(shop, "description.txt")


def test_texts_of_an_earlier_choice_are_taken_away(shop: Path, run: Run) -> None:
    """A second run in the same folder leaves no texts of episodes that it does not correct; others stay."""
    made(run, shop)
    mine = shop / "roundups" / DAY / "episodes" / "elm" / "mine.txt"
    mine.write_text("x")
    made(run, shop, "--only", "guard")
    left = {path.parent.name for path in (shop / "roundups" / DAY).glob("episodes/*/pinned-note.txt")}
    assert left == {"oak"}
    assert mine.exists()


def test_a_note_that_would_get_too_long_is_told(shop: Path, run: Run) -> None:
    """Where the host takes no longer note, the line on the roundup is left out and said; others get it."""
    made(run, shop)
    note = shop / "roundups" / DAY / "episodes" / "elm" / "pinned-note.txt"
    note.write_text("x" * 980)
    address = "https://video.example/corrections"
    code, _, err = run("roundup", shop, "--done", "--on", DAY, "--address", address)
    assert code == 1
    assert "episodes/elm/pinned-note.txt" in err
    assert note.read_text() == "x" * 980
    assert address in file(shop, "episodes/oak/pinned-note.txt")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--address", "https://video.example/x"), "--done"),
        (("--done", "--only", "guard"), "marks all"),
        (("--since", "2026-05-01", "--until", "2026-04-01"), "turn them round"),
    ],
)
def test_options_that_say_nothing_are_refused(
    shop: Path, run: Run, words: tuple[str, ...], told: str
) -> None:
    """What would be passed over in silence is wrong use: exit code 2, nothing written, nothing marked."""
    if "--done" in words:
        made(run, shop)
    before = sorted(shop.rglob("*"))
    code, out, err = run("roundup", shop, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert told in err
    assert sorted(shop.rglob("*")) == before
    assert not any(record.reach for record in read_ledger(shop).records)


def test_many_other_places_are_told_in_a_line_or_two() -> None:
    """Times are named by episode, the first few of each, and how many more there are."""
    span = Span(60_000, 65_000)
    also = [(f"e{n}", span) for n in range(7) for _ in range(5)]
    assert also_text(also[:1]) == "e0 at 1:00–1:05"
    assert also_text(also[:4]) == "e0 at 1:00–1:05, 1:00–1:05, 1:00–1:05 and 1 more"
    assert also_text(also).endswith("; and 2 episodes more")
    assert also_text(also).count("e0") == 1


@pytest.mark.parametrize("rate", [Fraction(25), Fraction(30000, 1001)])
def test_the_timeline_keeps_step_with_the_running_clock(rate: Fraction) -> None:
    """After two hundred corrections the clips still begin within a frame or two of the clock's time."""
    shots = [
        Shot("oak", "", Span(1000 + n, 5039 + n), None, rate, 600_000, 10_039, "", f"c{n}")
        for n in range(200)
    ]
    talk = talk_frames(shots, rate)
    (track,) = otio.adapters.read_from_string(roundup_otio("t", shots, rate)[0], "otio_json").tracks
    starts = [part.range_in_parent().start_time for part in track if isinstance(part, otio.schema.Clip)]
    for number, start in enumerate(starts):
        assert start.to_seconds() == pytest.approx(number * (4.039 + 10.039), abs=float(2 / rate))
    assert all(float(abs(Fraction(frames) / rate)) == pytest.approx(10.039, abs=0.1) for frames in talk)
