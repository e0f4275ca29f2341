"""The sheet: complete, self-contained, safe to open, legible; looked at with a browser where there is one."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from lxml import etree, html

from reelnotes.model import COMMON_PRACTICE, DEFERS, Cue, Draft, Promise, Purchase, Spending
from reelnotes.write.sheet import is_speech, sheet_html, speech_blocks

TEMPLATES = Path(__file__).resolve().parents[2] / "reelnotes" / "write" / "templates"
CHROMIUM = shutil.which("chromium")
browser = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")


def tree(draft: Draft) -> etree._Element:
    """Parse the sheet with a reader that is not ours."""
    return html.document_fromstring(sheet_html(draft))


def test_nothing_is_fetched(draft: Draft) -> None:
    """The page names no address of another place: no script, style, picture or font comes from outside."""
    page = tree(draft)
    assert page.xpath("//link | //img | //iframe | //script[@src] | //*[@srcset]") == []
    text = sheet_html(draft).replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?://|@import|url\(", text)


def test_every_entry_and_every_word_of_speech_is_there(draft: Draft) -> None:
    """Log and speech stand on the sheet whole, in their order."""
    page = tree(draft)
    entries = [" ".join(e.text_content().split()) for e in page.xpath("//div[contains(@class, 'entry')]")]
    for entry, shown in zip(draft.entries, entries, strict=True):
        assert shown.endswith(" ".join(entry.text.split()))
    spoken = " ".join(
        "".join(p.xpath(".//text()[not(parent::a)]"))
        for p in page.xpath("//div[contains(@class, 'block')]/p")
    )
    assert " ".join(spoken.split()) == " ".join(" ".join(cue.text for cue in draft.cues).split())


def test_words_of_the_maker_cannot_become_markup(draft: Draft) -> None:
    """Markup in a log entry, a cue or a title is shown as the letters that were written."""
    nasty = "<script>alert(1)</script> & <b>'\""
    hostile = replace(
        draft,
        title=nasty,
        entries=tuple(replace(e, text=nasty) for e in draft.entries),
        steps=tuple(replace(s, text=nasty) for s in draft.steps),
        cues=tuple(replace(c, text=nasty) for c in draft.cues),
    )
    page = tree(hostile)
    assert len(page.xpath("//script")) == 1
    assert page.xpath("//h1")[0].text == nasty


def test_every_link_on_the_page_has_its_target(draft: Draft) -> None:
    """A click on a time, an entry or a flag leads somewhere."""
    page = tree(draft)
    targets = set(page.xpath("//@id"))
    links = [href for href in page.xpath("//a/@href") if href.startswith("#")]
    assert links
    assert {href[1:] for href in links} <= targets


def test_a_draft_of_nothing_is_still_a_page() -> None:
    """No log, no transcript, no shelf: the sheet says so and breaks nothing."""
    page = tree(Draft("empty", "Empty", 0))
    assert "There is no shop log." in page.text_content()
    assert "There is no transcript." in page.text_content()


def test_blocks_hold_every_cue_once_and_in_order(draft: Draft) -> None:
    """Cutting the speech into paragraphs loses and doubles nothing."""
    blocks = speech_blocks(draft)
    joined = " ".join(line.text for block in blocks for line in block.lines)
    assert joined.split() == " ".join(cue.text for cue in draft.cues).split()


@pytest.mark.parametrize(
    ("text", "speech"), [("[Music]", False), ("(sound of a saw)", False), ("♪", False), ("So, glue.", True)]
)
def test_sounds_are_told_from_speech(text: str, speech: bool) -> None:
    """A cue that only names a sound is set apart."""
    assert is_speech(Cue(0, 1000, text, 1)) is speech


# --- legibility ------------------------------------------------------------------------------------


def text_of(draft: Draft) -> str:
    return " ".join(tree(draft).text_content().split())


def test_the_sheet_says_what_is_held_against_the_budget(draft: Draft) -> None:
    """What was paid is compared where the log tells it, else the parts used; a tool does not count."""
    paid = (Purchase("wax", Decimal("6.20"), 0, "material"), Purchase("clamp", Decimal(18), 0, "tool"))
    bought = text_of(replace(draft, spending=replace(draft.spending, budget=Decimal(10), bought=paid)))
    assert "paid 6.20, within the budget of 10.00" in bought
    assert "clamp 18.00 (tool, does not count)" in bought
    assert "what was paid is held against it, not the parts used" in bought
    parts = text_of(replace(draft, spending=Spending(total=Decimal(11), budget=Decimal(10))))
    assert "over the budget of 10.00" in parts
    assert "what was paid" not in parts


def test_what_every_caution_ends_with_stands_once(draft: Draft) -> None:
    """The deferring sentence stands at the head of the flags, not with each; common practice is a mark."""
    flags = tuple(
        replace(flag, caution=f"Wear it. {COMMON_PRACTICE} {DEFERS}", source=None) for flag in draft.flags
    )
    shown = text_of(replace(draft, flags=flags))
    assert shown.count("Usual caution: Wear it. (common practice)") == len(flags)
    assert DEFERS not in shown
    assert COMMON_PRACTICE not in shown
    assert shown.count("Local codes, the label and licensed practice come before every caution here") == 1


def test_only_what_is_owed_later_can_be_missed(draft: Draft) -> None:
    """A link and a question are for the maker to place; only something promised for later is looked for."""
    promises = tuple(Promise(60_000, kind, kind, None) for kind in ("link", "ask", "later"))
    shown = text_of(replace(draft, promises=promises))
    assert shown.count("not found") == 1
    assert "put it in the description" in shown
    assert "put it in the pinned note" in shown


def luminance(colour: str) -> float:
    """Relative luminance of `#rrggbb` (W3C, WCAG 2.2, definition of relative luminance)."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (W3C, WCAG 2.2, definition of contrast ratio): 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.4781), ("#595959", "#ffffff", 7.0047)],
)
def test_the_formula_gives_known_ratios(one: str, other: str, ratio: float) -> None:
    """The contrast formula of WCAG 2.2 on pairs worked out from its definition."""
    assert contrast(one, other) == pytest.approx(ratio, abs=1e-4)


def palettes() -> dict[str, dict[str, str]]:
    """Read the colours of the light and the dark sheet from the style."""
    style = (TEMPLATES / "sheet.css").read_text()
    light = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", style.split("@media")[0]))
    dark = light | dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", style.split("@media")[1]))
    return {"light": light, "dark": dark}


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("ink", "ground", "least"),
    [
        *(("ink", ground, 7.0) for ground in ("paper", "card", "mark")),
        *(("soft", ground, 4.5) for ground in ("paper", "card")),
        *(("link", ground, 4.5) for ground in ("paper", "card", "mark")),
        *((f"{word}-ink", word, 7.0) for word in ("danger", "warning", "caution", "notice")),
        *((f"thread{n}", "paper", 3.0) for n in ("", "-2", "-3", "-4")),
    ],
)
def test_colours_can_be_read(theme: str, ink: str, ground: str, least: float) -> None:
    """Text meets WCAG 2.2: 7:1 for running text and signal words, 4.5:1 for lesser text, 3:1 for lines."""
    colours = palettes()[theme]
    assert contrast(colours[ink], colours[ground]) >= least


# --- in a browser ----------------------------------------------------------------------------------

MEASURE = """
<script>addEventListener("load", () => {
  const twin = document.querySelector(".twin");
  const drawn = getComputedStyle(twin.querySelector("svg")).display !== "none";
  document.body.dataset.threads = drawn ? twin.querySelectorAll("path.thread").length : 0;
  document.body.dataset.over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  const tops = [...twin.querySelectorAll(".entry")].map((e) => e.getBoundingClientRect());
  document.body.dataset.mixed = tops.filter((b, i) => i && b.top < tops[i - 1].bottom).length;
});</script>
"""


def look(draft: Draft, folder: Path, width: int) -> dict[str, int]:
    """Open the sheet in a window of the given width and measure what stands there."""
    page = folder / "sheet.html"
    page.write_text(sheet_html(draft) + MEASURE, encoding="utf-8")
    done = subprocess.run(
        [
            str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            f"--user-data-dir={folder / 'profile'}", f"--window-size={width},900",
            "--dump-dom", f"file://{page}",
        ],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    body = html.document_fromstring(done.stdout).xpath("//body")[0]
    return {name: int(body.get(f"data-{name}")) for name in ("threads", "over", "mixed")}


@browser
def test_a_wide_window_draws_one_thread_for_each_telling(draft: Draft, tmp_path: Path) -> None:
    """Every span has its thread, the log keeps its order, and nothing sticks out sideways."""
    tellings = sum(len(step.spans) for step in draft.steps)
    assert look(draft, tmp_path, 1300) == {"threads": tellings, "over": 0, "mixed": 0}


@browser
def test_a_narrow_window_fits(draft: Draft, tmp_path: Path) -> None:
    """In a narrow window the threads give way to notes in the margin, and nothing sticks out sideways."""
    assert look(draft, tmp_path, 500) == {"threads": 0, "over": 0, "mixed": 0}
