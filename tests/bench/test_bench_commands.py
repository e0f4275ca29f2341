"""The bench on the command line."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from reelnotes.bench.evidence import COMPUTATIONS
from reelnotes.cli.app import app

RUN = CliRunner()
AS_DOCUMENTED = shlex.split(
    'bench movement --wood "eastern white pine" --width 420mm --cut flat --rh 35 75 --temp 20C'
)


def test_the_documented_line_works_as_it_stands() -> None:
    """In a process of its own it answers, exits 0 and says nothing on standard error."""
    command = [sys.executable, "-m", "reelnotes", *AS_DOCUMENTED]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "moves about 6.7 mm (1/4 in)" in done.stdout


def test_json_is_one_document_and_nothing_else() -> None:
    """The same as JSON, with its sources and what is not certain."""
    done = RUN.invoke(app, [*AS_DOCUMENTED, "--json"])
    document = json.loads(done.stdout)
    assert document["change_mm"] == pytest.approx(6.667, abs=0.001)
    assert document["problems"][0]["code"] == "bench-range"
    assert document["cite"].startswith("bench:movement?")


def test_cited_evidence_is_worked_out_again() -> None:
    """`bench again` gives the finding that a line cites."""
    cite = json.loads(RUN.invoke(app, [*AS_DOCUMENTED, "--json"]).stdout)["cite"]
    again = RUN.invoke(app, ["bench", "again", cite, "--json"])
    assert json.loads(again.stdout) == json.loads(RUN.invoke(app, [*AS_DOCUMENTED, "--json"]).stdout)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["pulls", "--front", "700x150mm", "--spacing", "96mm"], 0),
        (["pulls", "--front", "700x150mm", "--spacing", "3 3/4in"], 1),
        (
            [
                "pulls",
                "--front",
                "700x150mm",
                "--front",
                "700x180mm",
                "--spacing",
                "96mm",
                "--old",
                "306x75x5mm",
            ],
            1,
        ),
        (["coverage", "--area", "30x60in", "--coats", "3", "--coverage", "400ft2/gal"], 0),
        (["mix", "--parts", "oil=2, turpentine=1", "--total", "300ml"], 0),
        (["drying", "--notes", "next coat 24 h", "--at", "2026-03-04 14:20", "--at", "2026-03-05 09:00"], 1),
    ],
)
def test_exit_codes(words: list[str], code: int) -> None:
    """0 is clean, 1 means that something was found; the answer is printed all the same."""
    done = RUN.invoke(app, ["bench", *words])
    assert done.exit_code == code
    assert "To cite it in a correction:\nbench:" in done.stdout
    assert ("Mind:" in done.stdout) is (code == 1)


def test_a_refusal_is_one_sentence_and_exit_2() -> None:
    """A wood that is two woods ends with exit code 2 and the way out, without a traceback."""
    command = [
        sys.executable,
        "-m",
        "reelnotes",
        "bench",
        "movement",
        "--wood",
        "oak",
        "--width",
        "3in",
        "--rh",
        "35",
        "65",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert "did you mean red oak or white oak?" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_year_comes_from_the_workshop(tmp_path: Path) -> None:
    """Twelve months of workshop.toml give a table and a picture; the picture is not overwritten."""
    months = "[40, 42, 45, 50, 55, 60, 65, 66, 60, 55, 48, 42]"
    (tmp_path / "workshop.toml").write_text(f"[climate]\nhumidity = {months}\n", "utf-8")
    plot = tmp_path / "year.svg"
    words = [
        "bench",
        "movement",
        "--wood",
        "white oak",
        "--width",
        "600mm",
        "--workshop",
        str(tmp_path),
        "--plot",
        str(plot),
    ]
    done = RUN.invoke(app, words)
    assert done.exit_code == 0
    assert done.stdout.count("Aug") == 1
    assert plot.read_text("utf-8").startswith("<svg")
    assert type(RUN.invoke(app, words).exception).__name__ == "AlreadyThere"


def test_a_workshop_without_a_climate_is_told_what_is_missing(tmp_path: Path) -> None:
    """The refusal names the table to write."""
    (tmp_path / "workshop.toml").write_text('name = "x"\n', "utf-8")
    done = RUN.invoke(
        app, ["bench", "movement", "--wood", "teak", "--width", "6in", "--workshop", str(tmp_path)]
    )
    assert "[climate]" in str(done.exception)


@pytest.mark.parametrize(("name", "head"), [("t.svg", b"<svg"), ("t.pdf", b"%PDF-1.4")])
def test_a_template_is_written_by_its_suffix(tmp_path: Path, name: str, head: bytes) -> None:
    """The same drawing as SVG or PDF."""
    path = tmp_path / name
    RUN.invoke(app, ["bench", "pulls", "--front", "700x150mm", "--spacing", "96mm", "--template", str(path)])
    assert path.read_bytes().startswith(head)


def test_coats_come_from_the_log_and_times_from_the_shelf(tmp_path: Path) -> None:
    """An episode with two coats of an oil: the second went on six hours after the first, and is reported."""
    log = "2026-05-11\n09:00 first coat of fenland oil\n15:00 second coat of fenland oil\n"
    (tmp_path / "shop-log.txt").write_text(log, "utf-8")
    shelf = "name,pack,unit,price,kind,notes\nFenland oil,500,ml,12.00,oil,next coat 18 h\n"
    (tmp_path / "shelf.csv").write_text(shelf, "utf-8")
    done = RUN.invoke(
        app, ["bench", "drying", "--episode", str(tmp_path), "--product", "fenland oil", "--json"]
    )
    document = json.loads(done.stdout)
    assert [coat["at"] for coat in document["coats"]] == ["2026-05-11T09:00:00", "2026-05-11T15:00:00"]
    assert [problem["code"] for problem in document["problems"]] == ["bench-early"]
    assert done.exit_code == 1


TWO_FINISHES = """\
2026-05-11
09:00 first coat of fenland oil
2026-05-12
15:00 second coat of fenland oil
16:30 clear varnish, thin
"""
SHELF = """\
name,pack,unit,price,kind,notes
Fenland oil,500,ml,12.00,oil,next coat 18 h; 72 h before any other product
Clear varnish,500,ml,15.00,other,recoat 4 h; full cure 1 week
"""


def test_an_episode_tells_what_may_go_on_when(tmp_path: Path) -> None:
    """Every finish by the log; the varnish came 1.5 h after an oil that wants 72 h, as in the draft."""
    (tmp_path / "shop-log.txt").write_text(TWO_FINISHES, "utf-8")
    (tmp_path / "shelf.csv").write_text(SHELF, "utf-8")
    done = RUN.invoke(app, ["bench", "drying", "--episode", str(tmp_path), "--json"])
    document = json.loads(done.stdout)
    oil, varnish = document["finishes"]
    assert (oil["product"], oil["shelf_line"], oil["recoat_h"], oil["other_h"]) == ("Fenland oil", 2, 18, 72)
    assert [coat["recoat_from"] for coat in oil["coats"]] == ["2026-05-12T03:00:00", "2026-05-13T09:00:00"]
    assert varnish["coats"][0]["cured_from"] == "2026-05-19T16:30:00"
    (problem,) = document["problems"]
    assert problem["code"] == "bench-early"
    assert "1.5 h after" in problem["message"]
    assert "line 2 of the shelf: 72 h before any other product" in problem["message"]
    assert done.exit_code == 1
    again = ["bench", "again", oil["cite"], "--workshop", str(tmp_path), "--json"]
    assert json.loads(RUN.invoke(app, again).stdout)["coats"] == oil["coats"]
    drafted = json.loads(RUN.invoke(app, ["draft", str(tmp_path), "--json"]).stdout)
    (why,) = [flag["why"] for flag in drafted["flags"] if "the tin asks for" in flag["why"]]
    assert "1 h 30 min" in why
    assert "(line 2 of the shelf: “72 h before any other product”)" in why


def test_what_an_episode_cannot_give_again_is_cited_whole(tmp_path: Path) -> None:
    """Times of one's own are in the line; those of log and shelf are asked of the episode."""
    (tmp_path / "shop-log.txt").write_text(TWO_FINISHES, "utf-8")
    (tmp_path / "shelf.csv").write_text(SHELF, "utf-8")
    asked = ["bench", "drying", "--episode", str(tmp_path), "--product", "fenland oil", "--json"]
    own = json.loads(RUN.invoke(app, [*asked, "--notes", "next coat 6 h"]).stdout)
    assert own["cite"].startswith("bench:drying?product=Fenland+oil&notes=next+coat+6+h&at=2026-05-11")
    told = json.loads(RUN.invoke(app, asked).stdout)
    assert told["cite"] == f"bench:drying?product=Fenland+oil&episode={tmp_path.name}"
    elsewhere = RUN.invoke(app, ["bench", "again", told["cite"], "--workshop", str(tmp_path.parent)])
    assert "no log and shelf tell of them" in str(elsewhere.exception)


def test_an_episode_without_waits_says_what_the_shelf_must_say(tmp_path: Path) -> None:
    """One sentence, that names what went on."""
    (tmp_path / "shop-log.txt").write_text("2026-05-11\n09:00 first coat of fenland oil\n", "utf-8")
    (tmp_path / "shelf.csv").write_text("name,kind\nFenland oil,oil\n", "utf-8")
    done = RUN.invoke(app, ["bench", "drying", "--episode", str(tmp_path)])
    assert str(done.exception).startswith("Fenland oil went on, but the shelf's notes must say")


@pytest.mark.parametrize("kind", sorted(set(COMPUTATIONS) | {"episode"}))
def test_answers_keep_to_80_columns(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All but the line to cite, which stays whole."""
    monkeypatch.setenv("COLUMNS", "80")
    (tmp_path / "shop-log.txt").write_text(TWO_FINISHES, "utf-8")
    (tmp_path / "shelf.csv").write_text(SHELF, "utf-8")
    (tmp_path / "workshop.toml").write_text(f"[climate]\nhumidity = {[40.5] * 12}\n", "utf-8")
    long = {
        "movement": ["--wood", "interior north Douglas-fir", "--width", "16 1/2in", "--screw", "#10", "--cut",
                     "rift", "--workshop", str(tmp_path), "--made-rh", "50"],
        "pulls": ["--front", "1700x150mm", "--front", "1700x180mm", "--spacing", "160mm", "--count", "2",
                  "--old", "302x70x5mm"],
        "coverage": ["--area", "12.34m2", "--product", "penetrating oil", "--pack", "500ml", "--left", "1l"],
        "mix": ["--parts", "boiled linseed oil=2, pure gum turpentine=1, spar varnish=1", "--total",
                "1234ml"],
        "drying": ["--notes", "next coat 18 h, full cure 2 weeks", "--at", "2026-03-04 14:20"],
        "episode": ["--episode", str(tmp_path)],
    }  # fmt: skip
    done = RUN.invoke(app, ["bench", "drying" if kind == "episode" else kind, *long[kind]])
    lines = [line for line in done.stdout.splitlines() if not line.startswith("bench:")]
    assert lines
    assert [line for line in lines if len(line) > 80] == []


def test_a_template_of_another_kind_is_refused(tmp_path: Path) -> None:
    """A picture that is neither SVG nor PDF is not written under its name."""
    path = tmp_path / "t.png"
    words = ["bench", "pulls", "--front", "700x150mm", "--spacing", "96mm", "--template", str(path)]
    assert "ends in .svg or .pdf" in str(RUN.invoke(app, words).exception)
    assert not path.exists()


def test_again_takes_the_climate_of_the_workshop(tmp_path: Path) -> None:
    """The same line gives another answer once the climate has changed."""
    cite = "bench:movement?wood=white+oak&width=450mm&climate=workshop"
    changes = []
    for driest in (40, 50):
        months = [driest, *[65] * 11]
        (tmp_path / "workshop.toml").write_text(f"[climate]\nhumidity = {months}\n", "utf-8")
        done = RUN.invoke(app, ["bench", "again", cite, "--workshop", str(tmp_path), "--json"])
        changes.append(json.loads(done.stdout)["change_mm"])
        assert json.loads(done.stdout)["cite"] == cite
    assert changes == [pytest.approx(7.02, abs=0.005), pytest.approx(4.476, abs=0.005)]


def test_a_product_that_the_log_does_not_use_is_refused(tmp_path: Path) -> None:
    """The refusal names what was used."""
    (tmp_path / "shop-log.txt").write_text("2026-05-11\n09:00 first coat of fenland oil\n", "utf-8")
    shelf = "name,pack,unit,price,kind,notes\nFenland oil,500,ml,12.00,oil,next coat 18 h\n"
    (tmp_path / "shelf.csv").write_text(shelf, "utf-8")
    done = RUN.invoke(app, ["bench", "drying", "--episode", str(tmp_path), "--product", "moon wax"])
    assert "Fenland oil" in str(done.exception)
