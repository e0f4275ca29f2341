"""What a record cites of the bench: worked out afresh on each draft, and wherever the record is shown."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from reelnotes.cli.app import app
from reelnotes.pipeline.evidence import work_out
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.settings import ClimateSettings, WorkshopSettings

RUN = CliRunner()
CITE = "bench:movement?wood=white+oak&width=450mm&rh=40+65&temp=20C"
#: Wood Handbook, equation 4-5: 7.722 % at 40 % and 11.996 % at 65 % (computed); times 0.00365 and 450 mm.
ANSWER = (
    "white oak, flat-sawn, 450 mm wide: moves about 7.0 mm (9/32 in) between 40 % and 65 % humidity "
    "(7.7 to 12.0 % moisture content)."
)
OF_WORKSHOP = "bench:movement?wood=white+oak&width=450mm&climate=workshop"
RECORD = """\
# by hand
signal = "NOTICE"
topic = "wood-movement"
shown = "the top glued into its frame all round"
wrong = "solid wood swells across the grain, so the frame will split"
instead = "screw it on through slots"
evidence = [
    "seen in May",
    "{line}",
]
[[place]]
episode = "oak"
span = "0:05-0:12"
"""
LOG = "2026-03-04\n09:40 glued the top into its frame all round\n11:15 lunch\n14:15 rush on, soaked 10 min\n"
SPEECH = (
    "1\n00:00:05,000 --> 00:00:12,000\nThe top goes into its frame with hide glue all round.\n\n"
    "2\n00:02:30,000 --> 00:02:40,000\nAnd that is the stool done.\n"
)


def climate(driest: int) -> str:
    """Write a climate whose driest month is so dry; the dampest is 65 %."""
    return f'name = "x"\n[climate]\nhumidity = [{driest}, 50, 50, 52, 55, 60, 65, 64, 60, 55, 50, 50]\n'


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Give a workshop with a published episode and another whose log repeats its mistake."""
    for name in ("oak", "elm"):
        folder = tmp_path / "episodes" / name
        folder.mkdir(parents=True)
        (folder / "shop-log.txt").write_text(LOG, "utf-8")
        (folder / "transcript.srt").write_text(SPEECH, "utf-8")
    (tmp_path / "workshop.toml").write_text(climate(40), "utf-8")
    (tmp_path / "corrections").mkdir()
    return tmp_path


def cited(shop: Path, line: str) -> None:
    """Keep one record by hand that cites a line."""
    (shop / "corrections" / "top.toml").write_text(RECORD.format(line=line), "utf-8")


def asked(*words: str | Path) -> tuple[int, Any]:
    """Run a command with --json: its exit code and its document."""
    done = RUN.invoke(app, [*map(str, words), "--json"])
    return done.exit_code, json.loads(done.stdout)


# --- one line ----------------------------------------------------------------------------------------


def test_a_line_is_worked_out_in_words_for_viewers() -> None:
    """The answer of equation 4-5 and 13-2 (Wood Handbook) in one sentence; no problem."""
    assert work_out(CITE) == (ANSWER, [])


def test_a_line_that_cites_nothing_stays_as_it_is() -> None:
    """Evidence may be anything."""
    assert work_out("seen in May") == ("seen in May", [])


def test_figures_from_memory_and_estimates_are_called_so() -> None:
    """Teak's radial figure is from memory, and 30 to 80 % lies beyond 6 to 14 %: the words say both."""
    answer, _ = work_out("bench:movement?wood=teak&width=300mm&cut=quarter&rh=30+80")
    assert answer.endswith("; an estimate; in part with figures from memory.")


def test_an_answer_as_recorded_is_no_problem() -> None:
    """Other words for the same figures are none either."""
    assert work_out(f"{CITE} gave: {ANSWER}") == (ANSWER, [])
    reworded = "450 moves some 7.0 mm, 9/32 in, from 40 to 65 %, 7.7 to 12.0 % in the wood"
    assert work_out(f"{CITE} gave: {reworded}")[1] == []


def test_another_answer_is_a_problem_with_old_and_new() -> None:
    """Both stand in one sentence, and the answer of today is given."""
    was = ANSWER.replace("7.0 mm", "7.9 mm")
    answer, (problem,) = work_out(f"{CITE} gave: {was}")
    assert answer == ANSWER
    assert problem.code == "evidence-changed"
    assert was in problem.message
    assert ANSWER in problem.message


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("bench:weather?x=1", "names no bench computation"),
        ("bench:movement?wood=oak&width=450mm&rh=35+65", "did you mean red oak or white oak"),
        ("bench:movement?wood=white+oak&width=wide&rh=35+65", "'wide' is not what is wanted"),
        ("bench:movement?wood=white+oak&width=450mm&rh=35+101", "a relative humidity from 0 to 100"),
        ("bench:movement?wood=white+oak&width=450mm&colour=red", "takes no 'colour'"),
        ("bench:", "names no bench computation"),
        (OF_WORKSHOP, "has no [climate]"),
        ("bench:drying?product=Oil&episode=oak", "no log and shelf tell of them"),
    ],
)
def test_a_broken_line_gives_no_text_and_one_problem(line: str, reason: str) -> None:
    """Nothing is shown for it, and the sentence says why."""
    answer, (problem,) = work_out(line, WorkshopSettings())
    assert (answer, problem.code) == ("", "evidence")
    assert reason in problem.message


def test_the_workshops_climate_counts() -> None:
    """40 to 65 % in white oak of 450 mm: 7.722 to 11.996 % at 20 °C (computed), so 7.0 mm."""
    year = ClimateSettings((40, 42, 45, 50, 55, 60, 65, 64, 60, 55, 48, 42))
    answer, problems = work_out(OF_WORKSHOP, WorkshopSettings(climate=year))
    assert problems == []
    assert "moves about 7.0 mm" in answer


# --- wherever the record is shown ----------------------------------------------------------------------


def test_a_draft_tells_what_no_longer_holds(shop: Path) -> None:
    """The driest month is 50 % now (9.271 %, computed): old and new answer, file and line; so in `check`."""
    assert asked("correct", shop / "episodes/oak", "--span", "0:05-0:12", "--shown", "top glued in all round",
                 "--wrong", "it splits", "--instead", "slots", "--signal", "notice", "--topic",
                 "wood-movement", "--id", "top", "--evidence", OF_WORKSHOP)[0] == 0  # fmt: skip
    assert "7.0 mm" in (shop / "corrections/top.toml").read_text("utf-8")
    _, before = asked("draft", shop / "episodes/elm")
    assert [p for p in before["problems"] if p["code"].startswith("evidence")] == []
    (shop / "workshop.toml").write_text(climate(50), "utf-8")
    code, after = asked("draft", shop / "episodes/elm")
    (problem,) = [p for p in after["problems"] if p["code"].startswith("evidence")]
    assert (code, problem["code"], problem["file"]) == (1, "evidence-changed", "corrections/top.toml")
    text = (shop / "corrections/top.toml").read_text("utf-8").splitlines()
    assert OF_WORKSHOP in text[problem["line"] - 1]
    assert "moves about 7.0 mm" in problem["message"]
    assert "moves about 4.5 mm" in problem["message"]
    _, standing = asked("check", shop / "episodes/oak")
    assert [one["kind"] for one in standing["standing"]].count("evidence") == 1


def test_drying_follows_the_log_and_the_shelf(shop: Path) -> None:
    """An oil of 9:40 may have its next coat 18 h later; once the shelf says 24 h, the draft says so."""
    log = shop / "episodes/oak/shop-log.txt"
    log.write_text(LOG.replace("11:15 lunch", "11:15 first coat of fenland oil"), "utf-8")
    shelf = shop / "shelf.csv"
    shelf.write_text("name,kind,notes\nFenland oil,oil,next coat 18 h\n", "utf-8")
    line = "bench:drying?product=Fenland+oil&episode=oak"
    answer = "Fenland oil, coat 1: next coat from 2026-03-05 05:15."
    assert work_out(line, None, shop) == (answer, [])
    cited(shop, f"{line} gave: {answer}")
    assert read_ledger(shop).problems == ()
    shelf.write_text("name,kind,notes\nFenland oil,oil,next coat 24 h\n", "utf-8")
    _, draft = asked("draft", shop / "episodes/elm")
    (problem,) = [p for p in draft["problems"] if p["code"] == "evidence-changed"]
    assert answer in problem["message"]
    assert "next coat from 2026-03-05 11:15" in problem["message"]


def test_a_broken_line_is_one_problem_of_the_draft_at_its_line(shop: Path) -> None:
    """Line 9 of the file; the record still counts, without a figure."""
    cited(shop, "bench:movement?wood=oak&width=450mm&rh=35+65")
    ledger = read_ledger(shop)
    (problem,) = ledger.problems
    assert (problem.code, problem.file, problem.line) == ("evidence", "corrections/top.toml", 9)
    assert ledger.records[0].worked_out == ()
    _, draft = asked("draft", shop / "episodes/elm")
    assert [p["code"] for p in draft["problems"] if p["code"] == "evidence"] == ["evidence"]
    assert any(flag["topic"] == "wood-movement" for flag in draft["flags"])


def test_a_repeat_is_flagged_with_the_figure(shop: Path) -> None:
    """The flag of another episode's draft shows it, in the outputs too."""
    cited(shop, CITE)
    _, draft = asked("draft", shop / "episodes/elm")
    assert any(ANSWER in flag["evidence"] for flag in draft["flags"])
    out = shop / "episodes/elm/out"
    assert "moves about 7.0 mm" in (out / "flags.md").read_text("utf-8")
    assert "moves about 7.0 mm" in (out / "sheet.html").read_text("utf-8")


def test_inserts_and_the_texts_to_publish_carry_the_figure(shop: Path) -> None:
    """In the JSON, in the text to read through, in description and pinned note; never on the cards."""
    cited(shop, CITE)
    _, inserts = asked("insert", shop / "episodes/oak")
    (insert,) = inserts["inserts"]
    assert insert["worked_out"] == [ANSWER]
    assert not any("7.0" in line for card in insert["cards"] for line in card["lines"])
    out = shop / "episodes/oak/out/inserts"
    assert f"worked out: {ANSWER}" in (out / "inserts.txt").read_text("utf-8")
    for name in ("description.txt", "pinned-note.txt"):
        assert f"Worked out: {ANSWER} Instead:" in (out / name).read_text("utf-8")


def test_lessons_and_what_is_owed_carry_the_figure(shop: Path) -> None:
    """In print and as JSON."""
    cited(shop, CITE)
    _, lessons = asked("lessons", shop)
    assert lessons["lessons"][0]["record"]["worked_out"] == [ANSWER]
    _, owed = asked("owed", shop)
    assert ANSWER in owed["owed"][0]["text"]
    assert "worked out white oak" in RUN.invoke(app, ["lessons", str(shop)]).stdout


@pytest.mark.parametrize(("line", "loaded"), [("seen in March", False), (CITE, True)])
def test_the_bench_is_loaded_only_where_it_is_cited(shop: Path, line: str, loaded: bool) -> None:
    """A draft that cites nothing pays nothing; one that cites movement loads no drawing and no mixing."""
    cited(shop, line)
    code = (
        "import sys\nfrom pathlib import Path\nfrom reelnotes.pipeline.episode import draft_episode\n"
        f"draft_episode(Path({str(shop / 'episodes/elm')!r}))\nprint('\\n'.join(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    bench = {name for name in done.stdout.split() if name.startswith("reelnotes.bench")}
    assert bool(bench) is loaded
    assert not bench & {"reelnotes.bench.drawing", "reelnotes.bench.finishes", "reelnotes.bench.year_plot"}
