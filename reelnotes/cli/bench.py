"""Bench arithmetic on the command line: each command collects its measures and prints one finding."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reelnotes.bench.finding import Finding
    from reelnotes.problems import Problem

bench = typer.Typer(
    help="Bench arithmetic: wood movement, pulls, coverage, mixes, drying times.", no_args_is_help=True
)

_WIDEST, _NARROWEST = 100, 20

JsonOption = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]


@bench.command()
def movement(
    *,
    width: Annotated[str, typer.Option(help="across the grain: 420mm, 16 1/2in")],
    wood: Annotated[str, typer.Option(help='such as "white oak"')] = "",
    cut: Annotated[str, typer.Option(help="flat, quarter or rift")] = "flat",
    rh: Annotated[
        tuple[float, float] | None, typer.Option(metavar="DRY DAMP", help="humidity in %, both seasons")
    ] = None,
    temp: Annotated[str, typer.Option(help='20C or 68F; "18C 23C" for the two seasons')] = "20C",
    moisture: Annotated[
        tuple[float, float] | None,
        typer.Option(metavar="DRY DAMP", help="or readings of the wood itself, in %"),
    ] = None,
    made_rh: Annotated[
        str, typer.Option(help="humidity where the width was measured; else the dry one")
    ] = "",
    coefficient: Annotated[str, typer.Option(help="your own, per 1 % moisture content")] = "",
    shrinkage: Annotated[str, typer.Option(help="your own, green to ovendry in %")] = "",
    screw: Annotated[str, typer.Option(help="farthest screw: #8, M5 or 4.5mm")] = "",
    distance: Annotated[
        str, typer.Option(help="from the fixed line to that screw; else half the width")
    ] = "",
    workshop: Annotated[
        Path | None, typer.Option(metavar="DIR", help="take the twelve months from its workshop.toml")
    ] = None,
    plot: Annotated[Path | None, typer.Option(metavar="FILE.svg", help="draw the twelve months")] = None,
    as_json: JsonOption = False,
) -> None:
    """Work out how far a board or panel moves across the grain, and what its screws must allow."""
    from reelnotes.bench.movement_answer import answer_movement

    given = {
        "wood": wood,
        "width": width,
        "cut": cut,
        "rh": f"{rh[0]:g} {rh[1]:g}" if rh else "",
        "temp": temp,
        "moisture": f"{moisture[0]:g} {moisture[1]:g}" if moisture else "",
        "made_rh": made_rh,
        "coefficient": coefficient,
        "shrinkage": shrinkage,
        "screw": screw,
        "distance": distance,
        **(_months(workshop) if workshop else {}),
    }
    finding, problems = answer_movement(given)
    if plot:
        from reelnotes.bench.movement_answer import plot_movement

        _write(plot, plot_movement(given), as_json=as_json)
    raise typer.Exit(print_finding(finding, problems, as_json=as_json))


@bench.command()
def pulls(
    *,
    front: Annotated[list[str], typer.Option(help="700x150mm; once for every front, from the top")],
    spacing: Annotated[str, typer.Option(help="hole to hole: 96mm, 3in; 0 for a knob")],
    pull: Annotated[str, typer.Option(help="outline of the pull: 130x40mm")] = "",
    holes_below_top: Annotated[str, typer.Option(help="on the pull; else half its height")] = "",
    place: Annotated[str, typer.Option(help='centre, "margin 40mm" or "share 0.4"')] = "centre",
    count: Annotated[int, typer.Option(help="pulls on a front, 1 or 2")] = 1,
    inset: Annotated[
        str, typer.Option(help="of two pulls, from the sides; else a quarter of the width")
    ] = "",
    screw: Annotated[str, typer.Option(help="M4 and the like")] = "M4",
    fit: Annotated[str, typer.Option(help="fine, medium or coarse (ISO 273)")] = "medium",
    old: Annotated[
        list[str] | None, typer.Option(help="an old hole: 302x70x5mm, from the left, the top, diameter")
    ] = None,
    template: Annotated[
        Path | None, typer.Option(metavar="FILE.svg|.pdf", help="drilling template at full size")
    ] = None,
    template_front: Annotated[int, typer.Option(help="the front it is for, from 1")] = 1,
    paper: Annotated[str, typer.Option(help="a4 or letter")] = "a4",
    as_json: JsonOption = False,
) -> None:
    """Work out where pulls come to sit, which bit to take, and what becomes of old holes."""
    from reelnotes.bench.pulls_answer import answer_pulls

    given = {
        "front": ",".join(front),
        "spacing": spacing,
        "pull": pull,
        "holes_below_top": holes_below_top,
        "place": place,
        "count": str(count),
        "inset": inset,
        "screw": screw,
        "fit": fit,
        "old": ",".join(old or []),
    }
    finding, problems = answer_pulls(given)
    if template:
        from reelnotes.bench.drawing import drawing_pdf, drawing_svg
        from reelnotes.bench.pulls_answer import template_for
        from reelnotes.bench.units import BadMeasure

        drawing = template_for(given, paper, template_front)
        suffix = template.suffix.casefold()
        if suffix not in {".pdf", ".svg"}:
            raise BadMeasure(str(template), "a name that ends in .svg or .pdf", "template")
        drawn = drawing_pdf(drawing) if suffix == ".pdf" else drawing_svg(drawing)
        _write(template, drawn, as_json=as_json)
    raise typer.Exit(print_finding(finding, problems, as_json=as_json))


@bench.command()
def coverage(
    *,
    area: Annotated[str, typer.Option(help="2.3m2, 25sqft or 760x1520mm")],
    faces: Annotated[str, typer.Option(help="how many such areas")] = "1",
    coats: Annotated[int, typer.Option(help="coats")] = 1,
    coverage: Annotated[str, typer.Option(help="from the label: 10m2/l, 400ft2/gal")] = "",
    film: Annotated[str, typer.Option(help="or the wet film: 100um")] = "",
    product: Annotated[str, typer.Option(help='or only the kind: "clear finish", "penetrating oil", …')] = "",
    waste: Annotated[str, typer.Option(help="per cent on top; 10 to 20 is common practice")] = "0",
    pack: Annotated[str, typer.Option(help="what a tin holds: 500ml")] = "",
    left: Annotated[str, typer.Option(help="what is left in the open tin: 120ml")] = "",
    as_json: JsonOption = False,
) -> None:
    """Work out how much finish an area takes, and how many tins."""
    from reelnotes.bench.finishes_answer import answer_coverage

    given = {
        "area": area,
        "faces": faces,
        "coats": str(coats),
        "coverage": coverage,
        "film": film,
        "product": product,
        "waste": waste,
        "pack": pack,
        "left": left,
    }
    raise typer.Exit(print_finding(*answer_coverage(given), as_json=as_json))


@bench.command()
def mix(
    *,
    parts: Annotated[str, typer.Option(help='"oil=2, turpentine=1"')] = "",
    total: Annotated[str, typer.Option(help="how much is wanted: 300ml, 200g")] = "",
    have: Annotated[str, typer.Option(help="or use one of them up: oil=120ml")] = "",
    shellac: Annotated[str, typer.Option(help="the cut in pounds: 2")] = "",
    solvent: Annotated[str, typer.Option(help="for a cut: the alcohol, 500ml")] = "",
    flakes: Annotated[str, typer.Option(help="for a cut: or the flakes, 120g")] = "",
    per_litre: Annotated[str, typer.Option(help="for a solution: 60g")] = "",
    as_json: JsonOption = False,
) -> None:
    """Work out how much of each to take, so that it can be mixed again."""
    from reelnotes.bench.finishes_answer import answer_mix

    given = {
        "parts": parts,
        "total": total,
        "have": have,
        "shellac": shellac,
        "solvent": solvent,
        "flakes": flakes,
        "per_litre": per_litre,
    }
    raise typer.Exit(print_finding(*answer_mix(given), as_json=as_json))


@bench.command()
def drying(
    *,
    product: Annotated[str, typer.Option(help="the finish; with --episode none means all of them")] = "",
    episode: Annotated[
        Path | None, typer.Option(metavar="DIR", help="take its coats from the log, its times from the shelf")
    ] = None,
    notes: Annotated[
        str, typer.Option(help='or what the shelf says: "next coat 18 h, full cure 2 weeks"')
    ] = "",
    at: Annotated[
        list[str] | None, typer.Option(help='and when a coat went on: "2026-03-04 14:20"; once a coat')
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Work out when the next coat may go on, and when a finish has cured."""
    given = {"product": product, "notes": notes, "at": ",".join(at or [])}
    if episode:
        from reelnotes.pipeline.bench import drying_in

        raise typer.Exit(print_finding(*drying_in(episode, given), as_json=as_json))
    from reelnotes.bench.drying_answer import answer_drying

    raise typer.Exit(print_finding(*answer_drying(given), as_json=as_json))


@bench.command()
def again(
    cite: Annotated[str, typer.Argument(metavar="EVIDENCE", help="a line that begins with bench:")],
    workshop: Annotated[
        Path, typer.Option(metavar="DIR", help="whose climate and episodes count, if the line asks for them")
    ] = Path(),
    as_json: JsonOption = False,
) -> None:
    """Work out again what a correction cites as its evidence."""
    from reelnotes.bench.evidence import worked_out
    from reelnotes.pipeline.evidence import lent_measures

    raise typer.Exit(print_finding(*worked_out(cite, lent_measures(cite, None, workshop)), as_json=as_json))


# --- printing --------------------------------------------------------------------------------------


def print_finding(finding: Finding, problems: list[Problem], *, as_json: bool) -> int:
    """Print a finding; give the exit code: 1 where something in it is a problem, else 0."""
    from reelnotes.cli.printing import print_json

    exit_code = int(any(problem.severity != "note" for problem in problems))
    if as_json:
        found = [{"code": p.code, "severity": p.severity, "message": p.message} for p in problems]
        print_json({**finding.document, "problems": found})
        return exit_code
    _wrapped("", finding.sentence)
    typer.echo("")
    widest = max(len(row.label) for row in finding.rows)
    for row in finding.rows:
        _wrapped(f"  {row.label:<{widest}}  ", row.value + (f" [{row.mark}]" if row.mark else ""))
    if finding.table:
        typer.echo("\n" + "\n".join(_columns(finding.table)))
    for problem in problems:
        typer.echo("")
        place = f"{problem.file}:{problem.line}: " if problem.file else ""
        _wrapped("Mind: ", f"{place}{problem.message.rstrip('.')}.")
    typer.echo("")
    for words in finding.cautions:
        _wrapped("", words)
    if finding.sources:
        _wrapped("Sources: ", f"{'; '.join(finding.sources)}.")
    if finding.cite:
        typer.echo(f"To cite it in a correction:\n{finding.cite}")
    return exit_code


def _wrapped(head: str, words: str) -> None:
    """Print words beside a head, at most as wide as the terminal (80 columns where there is none).

    A number stays on the line of its unit.
    """
    import re
    import shutil
    import textwrap

    wide = min(shutil.get_terminal_size().columns, _WIDEST) - len(head)
    joined = re.sub(r"(?<=\d) (?=\d+/\d|(?:mm|in|%|ml|g|h|m²|ft²|°C|lb)\b|[%°])", "\N{NO-BREAK SPACE}", words)
    lines = textwrap.wrap(joined, max(wide, _NARROWEST), break_on_hyphens=False, break_long_words=False)
    typer.echo((head + f"\n{'':<{len(head)}}".join(lines)).replace("\N{NO-BREAK SPACE}", " "))


def _columns(table: tuple[tuple[str, ...], ...]) -> list[str]:
    """Lay a table out: words to the left, figures and times to the right."""
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    words = [all(row[column][:1].isalpha() for row in table[1:]) for column in range(len(widths))]
    return [
        "  "
        + "  ".join(
            cell.ljust(width) if left else cell.rjust(width)
            for cell, width, left in zip(row, widths, words, strict=True)
        ).rstrip()
        for row in table
    ]


def _write(path: Path, content: str | bytes, *, as_json: bool) -> None:
    """Write a picture and say so; one that is there already is not overwritten."""
    from reelnotes.problems import AlreadyThere
    from reelnotes.store import write_file

    if path.exists():
        raise AlreadyThere(path)
    write_file(path, content)
    if not as_json:
        typer.echo(f"wrote  {path}\n")


def _months(workshop: Path) -> dict[str, str]:
    """Ask for the climate of a workshop, with its twelve months. Raises a `Refusal` where it is no folder."""
    from reelnotes.pipeline.evidence import climate_measures
    from reelnotes.pipeline.reading import workshop_settings

    return {"climate": "workshop", **climate_measures(workshop_settings(workshop))}
