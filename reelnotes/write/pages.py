"""What all our pages share: templates that escape every word of the maker's, and styles that are ours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from reelnotes.timing import format_time

if TYPE_CHECKING:
    from jinja2 import Template

TEMPLATES = Path(__file__).parent / "templates"


def page_template(name: str) -> Template:
    """Give a template by the name of its file; jinja2 is loaded for it."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        loader=FileSystemLoader(TEMPLATES),
        bytecode_cache=_compiled_before(),
    )
    environment.filters["time"] = format_time
    return environment.get_template(name)


def _compiled_before() -> Any:  # noqa: ANN401 - jinja2 is loaded late
    """Give jinja2's own cache of compiled templates, private to the user: it halves the cost of a sheet.

    Where the system has no safe place for it, the template is compiled each time.
    """
    from jinja2 import FileSystemBytecodeCache

    try:
        return FileSystemBytecodeCache()
    except (OSError, RuntimeError):
        return None


def raw(path: Path) -> Any:  # noqa: ANN401 - markupsafe is jinja2's, loaded late
    """Give a file of ours to stand in a page as it is."""
    from markupsafe import Markup

    return Markup(path.read_text(encoding="utf-8"))  # noqa: S704 - our own file, nothing of the maker's
