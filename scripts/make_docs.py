"""Write the pages of docs/ that are made from the code: commands.md and problems.md.

`make_docs.py` writes them; tests/rules/test_docs.py holds that they are up to date.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

DOCS = Path(__file__).resolve().parents[1] / "docs"


def commands_page() -> str:
    """One heading a command, with its help text as the command prints it."""
    import typer

    from reelnotes.cli.app import app

    parts = [
        "# Commands\n",
        "Made from the commands themselves by `scripts/make_docs.py`.\n",
        "Exit codes: 0 clean, 1 problems were found (the work was done all the same), 2 wrong use or",
        "nothing to work on. With `--json`, standard output holds one JSON document and nothing else.\n",
        "Times are written `9:12`, `9:12.500`, `1:02:03` or `552.5`; spans `9:12-9:41`.\n",
    ]
    for path, command in walk(typer.main.get_command(app), ()):
        parts += [
            f"## {' '.join(path)}\n",
            f"{command.help.strip()}\n",
            f"`reelnotes {usage(path, command)}`\n",
        ]
        parts += [f"- `{name_of(param)}`: {help_of(param)}" for param in command.params]
        parts.append("")
    return "\n".join(parts)


def usage(path: tuple[str, ...], command: Any) -> str:  # noqa: ANN401 - typer keeps its command classes to itself
    """Write the line that shows how a command is called."""
    words = [name_of(p) if p.param_type_name == "argument" else f"[{name_of(p)}]" for p in command.params]
    return " ".join((*path, *words))


def name_of(param: Any) -> str:  # noqa: ANN401 - typer keeps its command classes to itself
    """Write an argument as `EPISODE`, an option as `--out DIR`."""
    if param.param_type_name == "argument":
        return str(param.metavar or param.name.upper())
    flag = getattr(param, "is_flag", False)
    return param.opts[0] if flag else f"{param.opts[0]} {param.metavar or param.name.upper()}"


def help_of(param: Any) -> str:  # noqa: ANN401 - typer keeps its command classes to itself
    """Give the help of a parameter. A parameter without one is a mistake of ours."""
    if not getattr(param, "help", None):
        raise SystemExit(f"{param.name} has no help text")
    return str(param.help)


def walk(command: Any, path: tuple[str, ...]) -> list[tuple[tuple[str, ...], Any]]:  # noqa: ANN401 - typer keeps its command classes to itself
    """List the commands below a group, depth first, in the order in which they were declared."""
    children = getattr(command, "commands", None)
    if children is None:
        return [(path, command)]
    return [found for name, child in children.items() for found in walk(child, (*path, name))]


def problems_page() -> str:
    """One heading a problem code, with its meaning."""
    from reelnotes.problems import PROBLEM_CODES

    parts = [
        "# Problems",
        "",
        "Made from the code by `scripts/make_docs.py`. A problem never stops the work and never loses a",
        "word: it is printed as `file:line: message` with the line beneath, stands in the sheet, and is",
        "in `draft.json`.",
        "",
    ]
    for code, meaning in sorted(PROBLEM_CODES.items()):
        parts += [f"## {code}", "", f"{meaning[:1].upper()}{meaning[1:]}.", ""]
    return "\n".join(parts)


PAGES = {"commands.md": commands_page, "problems.md": problems_page}


def main() -> int:
    """Write every page that is made from the code."""
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8")
        print(f"docs/{name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
