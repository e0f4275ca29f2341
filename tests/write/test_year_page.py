"""The year's page: its numbers, its plots in words, and its colours."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import html

from reelnotes.model import Correction, Place, Reach
from reelnotes.timing import Span
from reelnotes.write.year_page import (
    YearEpisode,
    YearFacts,
    YearFlag,
    YearMaterial,
    budget_bars,
    hours_text,
    kind_bars,
    median_days,
    month_bars,
    reached_days,
    topic_rows,
    year_page,
)

Run = Callable[..., tuple[int, str, str]]

TEMPLATES = Path(__file__).resolve().parents[2] / "reelnotes" / "write" / "templates"


def episode(number: int, month: int, against: str | None = None, budget: str | None = None) -> YearEpisode:
    """Make an episode of an hour and a half."""
    return YearEpisode(
        f"e{number}",
        f"Episode {number}",
        date(2026, month, 1),
        5_400_000,
        "EUR",
        None if against is None else Decimal(against),
        None if budget is None else Decimal(budget),
    )


RECORD = Correction(
    "glued", "glued <all> round", "w", "i", "NOTICE", "wood-movement",
    (Place("e1", 1, Span(0, 1000)),),
    reach=(Reach("description", "e1", date(2026, 3, 11)), Reach("in-picture", "e1", date(2026, 4, 1)),
           Reach("description", "e2", date(2026, 3, 5))),
    recorded=date(2026, 3, 1),
)  # fmt: skip
FACTS = YearFacts(
    "The signal box",
    2026,
    (episode(1, 3, "70", "45"), episode(2, 3, "30", "60"), episode(3, 12)),
    (YearMaterial("e1", "Wax", "wax", Decimal("4.50"), "EUR"), YearMaterial("e2", "Oil", "oil", None, "EUR"),
     YearMaterial("e2", "Paste", "wax", Decimal("1.25"), "EUR"),
     YearMaterial("e3", "Wax", "wax", Decimal(9), "USD")),
    (YearFlag(3, "dust", True), YearFlag(3, "dust", False), YearFlag(12, "mains", True)),
    (RECORD, Correction("new", "s", "w", "i", "DANGER", recorded=date(2026, 5, 1))),
    (("new", "e1"),),
)  # fmt: skip


def test_months_hold_their_episodes() -> None:
    """Hours and counts stand at the month of publishing; the fullest month fills the plot."""
    bars = month_bars(FACTS)
    assert (bars[2].words, bars[2].share) == ("2 episodes, 3.0 h", 1.0)
    assert (bars[11].words, bars[11].share) == ("1 episode, 1.5 h", 0.5)
    assert bars[0].share == 0


def test_the_furthest_over_budget_comes_first() -> None:
    """What is over says so, in words and by its place; an episode without a budget is in no row."""
    bars = budget_bars(FACTS)
    assert [(bar.label, bar.over) for bar in bars] == [("Episode 1", True), ("Episode 2", False)]
    assert bars[0].words == "70.00 of 45.00 EUR"
    assert bars[0].mark == pytest.approx(45 / 70)


def test_currencies_are_never_added_up() -> None:
    """Each currency has its own plot, costs to the cent; what has no cost is counted as used and says so."""
    assert [(bar.label, bar.words) for bar in kind_bars(FACTS, "EUR")] == [
        ("wax", "5.75 EUR, used 2 ×"),
        ("oil", "cost not known, used 1 ×"),
    ]
    assert [bar.words for bar in kind_bars(FACTS, "USD")] == ["9.00 USD, used 1 ×"]


def test_topics_are_counted_by_month_the_worst_harm_first() -> None:
    """Mains electricity stands above dust; months without a flag are empty."""
    rows = topic_rows(FACTS)
    assert [(words, total) for words, _, total in rows] == [("mains electricity", 1), ("dust", 2)]
    assert rows[1][1] == [0, 0, 2, *[0] * 9]


@given(st.lists(st.tuples(st.integers(1, 12), st.sampled_from(["dust", "mains", "disclosure"])), max_size=30))
def test_no_flag_is_lost(flags: list[tuple[int, str]]) -> None:
    """The sum over all fields is the number of flags."""
    facts = YearFacts("", 2026, flags=tuple(YearFlag(m, t, True) for m, t in flags))  # type: ignore[arg-type]  # topics
    assert sum(total for _, _, total in topic_rows(facts)) == len(flags)


def test_days_count_from_recording_to_the_first_time_in_each_place() -> None:
    """The description was first mended after four days, for whichever episode; the picture after 31."""
    assert reached_days(RECORD) == [("description", 4), ("in-picture", 31)]
    assert median_days(FACTS.corrections) == 4
    assert median_days(FACTS.corrections[1:]) is None


def test_the_page_stands_alone_and_escapes_words() -> None:
    """One file: no script, nothing fetched; a tag in a correction is text."""
    text = year_page(FACTS)
    page = html.document_fromstring(text)
    assert page.xpath("//script | //link | //img | //iframe") == []
    assert not re.search(r"https?://|@import|url\(", text)
    assert page.xpath("//all") == []
    assert "glued <all> round" in page.text_content()


def test_every_plot_can_be_read_without_seeing_it() -> None:
    """Each has a title and a description, and every bar's value stands in a table."""
    page = html.document_fromstring(year_page(FACTS))
    plots = page.xpath("//svg")
    assert len(plots) == 5
    for plot in plots:
        assert plot.get("role") == "img"
        assert plot.xpath("string(title)")
        assert plot.xpath("string(desc)")
    cells = [" ".join(cell.text_content().split()) for cell in page.xpath("//td")]
    assert {"70.00 of 45.00 EUR, over", "5.75 EUR, used 2 ×", "2 episodes, 3.0 h"} <= set(cells)


def test_an_empty_year_is_a_page_too() -> None:
    """Nothing published, nothing flagged, nothing corrected: said in calm sentences."""
    text = html.document_fromstring(year_page(YearFacts("", 2020))).text_content()
    for sentence in ("No episode has a date", "Nothing was flagged", "No correction was recorded"):
        assert sentence in text


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    ("ink", "ground", "least"),
    [
        ("ink", "paper", 7.0),
        ("soft", "paper", 4.5),
        ("bar", "paper", 3.0),
        ("over", "paper", 3.0),
        ("s-ink", "s1", 4.5),
        ("s-ink", "s2", 4.5),
        ("s3-ink", "s3", 4.5),
    ],
)
def test_words_and_bars_stand_out(scheme: str, ink: str, ground: str, least: float) -> None:
    """Text 4.5:1, graphics 3:1 at least against their ground (WCAG 2.2, 1.4.3 and 1.4.11)."""
    style = (TEMPLATES / "year.css").read_text("utf-8")
    light, dark = style.split("@media (prefers-color-scheme: dark)")
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", light))
    if scheme == "dark":
        colours |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", dark.split("@media")[0]))
    low, high = sorted(luminance(colours[name]) for name in (ink, ground))
    assert (high + 0.05) / (low + 0.05) >= least


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition)."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


# --- the command -------------------------------------------------------------------------------------


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Give a workshop with an episode in each of two years, and a correction."""
    for slug, day, paid in (("oak", "2025-11-01", ""), ("elm", "2026-02-01", "bought wax £8.50\n")):
        folder = tmp_path / "episodes" / slug
        folder.mkdir(parents=True)
        (folder / "shop-log.txt").write_text(
            f"2026-01-04\n09:40 hide glue 50 ml\n10:00 oily rags in the bin\n{paid}"
        )
        (folder / "episode.toml").write_text(f"date = {day}\nbudget = 5\nlength = '30:00'\n")
    (tmp_path / "workshop.toml").write_text('name = "The signal box"\ncurrency = "GBP"\n')
    (tmp_path / "shelf.csv").write_text("name,pack,unit,price,kind\nHide glue,500,ml,20,glue\n")
    return tmp_path


def test_the_last_year_with_an_episode_is_meant(shop: Path, run: Run) -> None:
    """Without a year it is the last one; the page lies under its number."""
    code, out, _ = run("year", shop)
    assert code == 0
    assert "2026: 1 episode, 30 min of programme" in out
    assert "The signal box" in (shop / "years" / "2026.html").read_text("utf-8")


def test_a_year_is_asked_for(shop: Path, run: Run) -> None:
    """The other year has the other episode; --json gives one document."""
    code, out, _ = run("year", shop, "2025", "--json", "--out", shop / "x.html")
    document = json.loads(out)
    assert code == 0
    assert [one["episode"] for one in document["episodes"]] == ["oak"]
    assert document["episodes"][0]["against_budget"] == 2.0
    assert (shop / "x.html").exists()


def test_what_was_paid_goes_before_what_the_parts_cost(shop: Path, run: Run) -> None:
    """The log of this one names a price, so the price is held against the budget."""
    _, out, _ = run("year", shop, "2026", "--json")
    assert json.loads(out)["episodes"][0]["against_budget"] == 8.5


RECORD_TEXT = 'recorded = 2026-03-01\nsignal = "NOTICE"\nshown = "s"\nwrong = "w"\ninstead = "i"\n'


def test_a_lesson_is_no_correction_of_the_year(shop: Path, run: Run) -> None:
    """A record that speaks of no place reaches nobody and is owed to nobody, so it is not counted."""
    (shop / "corrections").mkdir()
    (shop / "corrections" / "lesson.toml").write_text(RECORD_TEXT)
    place = '[[place]]\nepisode = "elm"\nversion = 1\nspan = "0:10-0:20"\n'
    (shop / "corrections" / "seen.toml").write_text(RECORD_TEXT + place)
    _, out, _ = run("year", shop, "2026", "--json")
    assert [one["id"] for one in json.loads(out)["corrections"]] == ["seen"]


def test_a_damaged_record_is_told_every_time(shop: Path, run: Run) -> None:
    """What could not be read is missing from the page, so it is said, for programs too, and again."""
    (shop / "corrections").mkdir()
    (shop / "corrections" / "torn.toml").write_text("= torn")
    (shop / "corrections" / "folder.toml").mkdir()
    for _ in range(2):
        code, out, _ = run("year", shop, "2026", "--json")
        assert code == 1
        files = {problem["file"] for problem in json.loads(out)["problems"]}
        assert files == {"corrections/torn.toml", "corrections/folder.toml"}
        code, _, err = run("trace", shop, "glue")
        assert code == 1
        assert "torn.toml" in err


@pytest.mark.parametrize("year", ["0", "26", "10000"])
def test_what_is_no_year_is_refused(shop: Path, run: Run, year: str) -> None:
    """A number that no episode could have as its year is wrong use, and no page is written."""
    code, out, err = run("year", shop, year)
    assert (code, out) == (2, "")
    assert "write it as 2026" in err
    assert not (shop / "years").exists()


def test_short_programmes_are_told_in_minutes() -> None:
    """A few minutes are not rounded to no hours."""
    assert [hours_text(ms) for ms in (0, 150_000, 3_599_000, 3_600_000, 5_400_000)] == [
        "0 min", "2 min", "60 min", "1.0 h", "1.5 h",
    ]  # fmt: skip


def test_a_cost_that_is_not_known_is_not_nothing() -> None:
    """A kind whose costs are all unknown says so; where some are, it says how many."""
    materials = (
        YearMaterial("e1", "Sheet", "abrasive", None, "EUR"),
        YearMaterial("e1", "Oil", "oil", Decimal(2), "EUR"),
        YearMaterial("e2", "Oil", "oil", None, "EUR"),
    )
    words = {bar.label: bar.words for bar in kind_bars(YearFacts("", 2026, materials=materials), "EUR")}
    assert words == {
        "abrasive": "cost not known, used 1 ×",
        "oil": "2.00 EUR for 1 of 2 uses",
    }


def test_what_was_told_before_it_was_recorded_took_no_days() -> None:
    """A note pinned before the record was made counts as the same day, not as less than nothing."""
    early = Correction(
        "e", "s", "w", "i", "NOTICE", reach=(Reach("pinned-note", "e1", date(2026, 2, 20)),),
        recorded=date(2026, 3, 1),
    )  # fmt: skip
    assert reached_days(early) == [("pinned-note", 0)]


def test_every_row_of_a_table_has_its_header() -> None:
    """Tables have a column header for each column and a row header for each row."""
    page = html.document_fromstring(year_page(FACTS))
    for table in page.xpath("//table"):
        assert table.xpath("thead/tr/th[@scope='col']")
        for row in table.xpath("tbody/tr"):
            assert len(row.xpath("th[@scope='row']")) == 1


def test_what_scrolls_can_be_scrolled_with_keys() -> None:
    """A wide table can be reached and moved without a pointer, and says what it is."""
    page = html.document_fromstring(year_page(FACTS))
    for region in page.xpath("//*[@class='scroll']"):
        assert region.get("tabindex") == "0"
        assert page.get_element_by_id(region.get("aria-labelledby")).text_content().strip()


def test_the_page_can_go_into_a_folder(shop: Path, run: Run, tmp_path: Path) -> None:
    """--out may name a folder: the page lies in it under its number."""
    (tmp_path / "pages").mkdir()
    assert run("year", shop, "2026", "--out", tmp_path / "pages")[0] == 0
    assert (tmp_path / "pages" / "2026.html").is_file()


def test_no_words_of_a_plot_run_off_its_edge() -> None:
    """The longest values, at a letter of half its size (common practice, no source), end inside the plot."""
    many = [YearMaterial("e1", "Oil", "oil", Decimal("123456.78"), "EUR") for _ in range(99)]
    facts = YearFacts("", 2026, materials=(*many, YearMaterial("e1", "Oil", "oil", None, "EUR")))
    (bar,) = kind_bars(facts, "EUR")
    assert 548 + len(bar.words) * 13 / 2 < 790
