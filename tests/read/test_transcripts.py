"""What holds for transcripts of every form: nothing is lost, nothing raises, nothing is slow."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.model import Cue
from reelnotes.problems import FileUnreadable, Problem
from reelnotes.read.captions import form_of, read_transcript
from reelnotes.read.cue_words import plain_words
from reelnotes.store import SourceText, decode
from reelnotes.timing import format_exact

modest = settings(max_examples=200, deadline=None)

SRT = "1\n00:00:01,000 --> 00:00:02,500\nthe lid\nis off\n\n2\n00:00:03,000 --> 00:00:04,000\n<i>planed</i>\n"
VTT = (
    "WEBVTT\n\nNOTE remark\n\n00:01.000 --> 00:02.500\nthe lid\n\n"
    "name\n00:03.000 --> 00:04.000 align:start\nplaned\n"
)
TXT = "[0:01] the lid\nis off\n\n[0:03] planed\n"
JSON = '[{"start": 1, "end": 2.5, "text": "the lid"},\n{"start": 3, "end": 4, "text": "planed"}]\n'
FORMS = {"srt": SRT, "vtt": VTT, "txt": TXT, "json": JSON}


ROOT = Path(__file__).resolve().parents[2]

# --- no line is lost ---------------------------------------------------------------------------------


def unaccounted(source: SourceText, cues: tuple[Cue, ...], problems: list[Problem]) -> list[tuple[int, str]]:
    """List the lines that are neither in a cue, nor part of the form, nor shown by a problem."""
    if any(problem.code == "transcript-empty" for problem in problems):
        return []
    told = " ".join(cue.text for cue in cues)
    heads = {cue.line for cue in cues} | {p.line for p in problems if p.line}
    some_empty = any(problem.code == "cue-empty" for problem in problems)  # counted, and only the first shown
    lines = source.lines
    lost = []
    for number, line in enumerate(lines, 1):
        words = plain_words(line).split()
        below = lines[number] if number < len(lines) else ""
        is_form = number in heads or "-->" in line or "-->" in below or _is_remark(lines, number)
        is_form = is_form or (some_empty and bool(re.fullmatch(r"\[[\d:]+\]", line.strip())))
        if words and not is_form and not all(word in told for word in words):
            lost.append((number, line))
    return lost


def _is_remark(lines: list[str], number: int) -> bool:
    """Tell whether a line stands in the header or in a NOTE, STYLE or REGION block of WebVTT."""
    start = number
    while start > 1 and lines[start - 2].strip():
        start -= 1
    return lines[start - 1].startswith(("WEBVTT", "NOTE", "STYLE", "REGION"))


WORDS = [
    "the lid is off",
    "[Music]",
    "<i>planed</i> flat",
    "{\\an8}up here",
    "fish &amp; bone",
    "a < b",
    "180",
]
FORM = ["", "", "   ", "1", "12", "NOTE remark", "STYLE", "REGION", "WEBVTT", "-->", "stain --> seal"]
TIMES = [
    "00:00:01,000 --> 00:00:02,000",
    "00:00:09.500 --> 00:00:10.000 align:start",
    "00:05.000 --> 00:04.000",
    "00:00:75,000 --> 00:01:20,000",
    "00:0x:05,000 --> 00:00:06,000",
    "00:00:01,000 -->",
    "[0:05] gluing",
    "[1:02:03]",
    "[0:75] late",
    "0:30 clamps",
]
PIECES = WORDS + FORM + TIMES
ANYTHING = st.text(st.characters(exclude_characters="\n\r\0<{&", exclude_categories=["Cs"]), max_size=20)


@modest
@given(st.lists(st.sampled_from(PIECES) | ANYTHING, max_size=14), st.sampled_from(["srt", "vtt", "txt"]))
def test_random_lines_are_all_accounted_for(lines: list[str], suffix: str) -> None:
    """Every line that holds anything is a cue's, the form's, or shown; cues come out in order and whole."""
    source = SourceText(f"transcript.{suffix}", "\n".join(lines))
    cues, problems = read_transcript(source)
    assert unaccounted(source, cues, problems) == []
    assert [c.start_ms for c in cues] == sorted(c.start_ms for c in cues)
    assert all(0 <= c.start_ms < c.end_ms and c.text and c.text == " ".join(c.text.split()) for c in cues)
    assert all(p.file == source.name for p in problems)


@modest
@given(st.data(), st.sampled_from(["srt", "vtt", "txt"]))
def test_damaged_files_lose_no_line(data: st.DataObject, form: str) -> None:
    """Lines of a valid file taken out, doubled, moved or cut short: what is left is all accounted for."""
    lines = (FORMS[form] * 2).split("\n")
    for _ in range(data.draw(st.integers(1, 5))):
        at = data.draw(st.integers(0, len(lines) - 1))
        line = lines.pop(at)
        change = data.draw(st.sampled_from(["gone", "twice", "moved", "cut"]))
        if change == "twice":
            lines[at:at] = [line, line]
        elif change == "moved":
            lines.insert(data.draw(st.integers(0, len(lines))), line)
        elif change == "cut":
            lines.insert(at, line[: data.draw(st.integers(0, len(line)))].replace("<", ""))
        lines = lines or [""]
    source = SourceText(f"transcript.{form}", "\n".join(lines))
    cues, problems = read_transcript(source)
    assert unaccounted(source, cues, problems) == []


def test_the_account_finds_a_line_that_is_lost() -> None:
    """The check itself can fail: with a cue taken away, its lines are listed."""
    source = SourceText("transcript.srt", SRT)
    cues, problems = read_transcript(source)
    assert unaccounted(source, cues, problems) == []
    assert unaccounted(source, cues[1:], problems) == [(3, "the lid"), (4, "is off")]


# --- forms and encodings -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["transcript.srt", "transcript.vtt", "transcript.txt", "transcript.json", "captions"]
)
@pytest.mark.parametrize("form", FORMS)
def test_content_decides_the_form(form: str, name: str) -> None:
    """A file under a wrong suffix is read by what it holds, except arrows under `.vtt`: that is WebVTT."""
    expected = "vtt" if (form, name) == ("srt", "transcript.vtt") else form
    wrong_way = {("txt", "transcript.srt"), ("txt", "transcript.vtt"), ("txt", "transcript.json")}
    if (form, name) not in wrong_way:
        assert form_of(SourceText(name, FORMS[form])) == expected
    cues, _ = read_transcript(SourceText(name, FORMS[form]))
    assert [c.start_ms for c in cues] == [1000, 3000] or (form, name) in wrong_way


def raw(text: str, encoding: str = "utf-8", newline: str = "\n", before: bytes = b"") -> bytes:
    return before + text.replace("\n", newline).encode(encoding)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(
    "make",
    [
        lambda text: raw(text, before=b"\xef\xbb\xbf"),
        lambda text: raw(text, newline="\r\n"),
        lambda text: raw(text, newline="\r\n", before=b"\xef\xbb\xbf"),
        lambda text: raw(text, newline="\r"),
        lambda text: raw(text, encoding="utf-16"),
    ],
    ids=["bom", "crlf", "bom-crlf", "cr", "utf-16"],
)
def test_byte_order_marks_and_line_ends(form: str, make: object) -> None:
    """They make no difference to what is read, nor to the line numbers."""
    assert callable(make)
    plain = read_transcript(SourceText(f"transcript.{form}", FORMS[form]))
    source, problems = decode(make(FORMS[form]), f"transcript.{form}", Path("x"))
    assert problems == []
    assert read_transcript(source) == plain


def test_latin_1_is_read_with_a_warning() -> None:
    """A pound sign in an old encoding comes out right."""
    source, problems = decode("[0:01] tin was £4.50\n".encode("latin-1"), "transcript.txt", Path("x"))
    assert [p.code for p in problems] == ["encoding"]
    assert read_transcript(source)[0][0].text == "tin was £4.50"


def test_nul_bytes_are_no_text() -> None:
    """One sentence that names the file, before any reader sees it."""
    with pytest.raises(FileUnreadable, match="it is not a text file"):
        decode(b"1\0\0", "transcript.srt", Path("transcript.srt"))


@pytest.mark.parametrize("suffix", FORMS)
@pytest.mark.parametrize("text", ["", " ", "\n\n \t\n"])
def test_an_empty_file_says_so(text: str, suffix: str) -> None:
    """No cues, and one error."""
    cues, problems = read_transcript(SourceText(f"transcript.{suffix}", text))
    assert cues == ()
    assert "transcript-empty" in [p.code for p in problems]
    assert all(p.severity == "error" for p in problems if p.code == "transcript-empty")


# --- markup ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<i>so</i> <b>here</b>", "so here"),
        ("<v.loud Ann>hello</v>", "hello"),
        ("<font color='red'>red</font>", "red"),
        ("{\\an8}up", "up"),
        ("{\\i1}so{\\i0}", "so"),
        ("a<br/>b", "a b"),
        ("<00:00:01.000><c> word</c>", "word"),
        ("A &lt;b&gt; &amp; C", "A <b> & C"),
        ("6 < 9 and 9 > 6", "6 < 9 and 9 > 6"),
        ("<not a tag>", "<not a tag>"),
        ("a\u00a0b\u200b", "a b"),
        ("[Music]", "[Music]"),
    ],
)
def test_words_without_markup(text: str, words: str) -> None:
    """Known tags go out, other signs stay; `A &lt;b&gt; &amp; C` is how WebVTT writes `A <b> & C` (W3C)."""
    assert plain_words(text) == words


# --- cost --------------------------------------------------------------------------------------------


def many(form: str, count: int) -> str:
    if form == "txt":
        return "\n\n".join(f"[{n // 30}:{n % 30 * 2:02d}] words of cue {n}" for n in range(count))
    if form == "json":
        rows = (f'{{"start": {n * 2}, "end": {n * 2 + 1}, "text": "words {n}"}}' for n in range(count))
        return "[" + ",\n".join(rows) + "]"
    mark = "," if form == "srt" else "."
    cues = []
    for n in range(count):
        start, end = format_exact(n * 2000, mark), format_exact(n * 2000 + 1900, mark)
        cues.append(f"{n + 1}\n{start} --> {end}\nwords of\n<i>cue</i> {n}\n")
    return ("WEBVTT\n\n" if form == "vtt" else "") + "\n".join(cues)


@pytest.mark.parametrize("form", FORMS)
def test_ten_thousand_cues(form: str) -> None:
    """They are read in well under 0.3 s of CPU (0.1 s when this was written)."""
    source = SourceText(f"transcript.{form}", many(form, 10_000))
    costs = []
    for _ in range(3):
        before = time.process_time()
        cues, problems = read_transcript(source)
        costs.append(time.process_time() - before)
        assert (len(cues), problems) == (10_000, [])
    assert min(costs) < 0.3


@pytest.mark.parametrize("form", ["srt", "vtt", "txt"])
def test_cost_grows_no_faster_than_the_file(form: str) -> None:
    """Four times the damaged cues cost less than eight times as much."""

    def cost(count: int) -> float:
        text = many(form, count).replace("7,", "x,").replace("-->", "->x", count // 2)
        source = SourceText(f"transcript.{form}", text)
        costs = []
        for _ in range(3):
            before = time.process_time()
            read_transcript(source)
            costs.append(time.process_time() - before)
        return min(costs)

    assert cost(8_000) < 8 * max(cost(2_000), 0.005)


def test_reading_captions_loads_the_standard_library_alone() -> None:
    """Start-up is paid by every command: no other package is loaded to read SubRip and WebVTT."""
    code = f"""
import sys
sys.path.insert(0, {str(ROOT)!r})
from reelnotes.read.captions import read_transcript
from reelnotes.store import SourceText
for name, text in (("a.srt", {SRT!r}), ("a.vtt", {VTT!r}), ("a.txt", {TXT!r}), ("a.json", {JSON!r})):
    assert len(read_transcript(SourceText(name, text))[0]) == 2
print({{name.split(".")[0] for name in sys.modules}} - sys.stdlib_module_names - {{"reelnotes", "__main__"}})
"""
    run = subprocess.run([sys.executable, "-S", "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "set()"


@pytest.mark.parametrize("piece", ["{\\", "<i ", "<", "&lt", " ", "1", "0:01 --> ", "[0:11", '[{"a":', "\n"])
@pytest.mark.parametrize("form", FORMS)
def test_no_line_is_long_enough_to_hang(form: str, piece: str) -> None:
    """A hundred thousand of anything are done in a second (some forms of reading would take minutes)."""
    before = time.process_time()
    read_transcript(SourceText(f"transcript.{form}", FORMS[form] + piece * 100_000))
    assert time.process_time() - before < 1
