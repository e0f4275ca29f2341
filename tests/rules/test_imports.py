"""The house has one direction: these claims hold it."""

from __future__ import annotations

import ast
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "reelnotes"
GROUND = {"problems", "timing", "records", "model", "settings", "store", "project"}
STEPS = {"archive", "read", "align", "draft", "risk", "review", "write", "bench", "corrections", "picture"}
#: Who may import whom, beyond the ground and oneself; the top may import all.
ALLOWED = {**{room: {"words"} for room in STEPS}, "words": set()}
TOP = {"pipeline", "cli", "__main__", "__init__"}


def rooms() -> list[str]:
    """List the modules and packages at the top of the package."""
    return sorted(p.stem for p in PACKAGE.iterdir() if p.suffix == ".py" or (p / "__init__.py").exists())


def imports_of(room: str) -> set[str]:
    """Collect the rooms of the package that a room imports, wherever the import stands."""
    at = PACKAGE / room
    files = sorted(at.rglob("*.py")) if at.is_dir() else [PACKAGE / f"{room}.py"]
    found: set[str] = set()
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("reelnotes"):
                names = (
                    [node.module]
                    if node.module != "reelnotes"
                    else [f"reelnotes.{a.name}" for a in node.names]
                )
            elif isinstance(node, ast.Import):
                names = [a.name for a in node.names if a.name.startswith("reelnotes.")]
            else:
                continue
            found |= {name.split(".")[1] for name in names if "." in name}
    return found - {room, "__version__"}


def test_every_room_is_known() -> None:
    """A new room must be given its place in the order before it can be built."""
    assert set(rooms()) - GROUND - set(ALLOWED) - TOP == set()


@pytest.mark.parametrize("room", sorted(GROUND))
def test_the_ground_stands_on_the_ground(room: str) -> None:
    """A ground module imports ground modules alone."""
    assert imports_of(room) <= GROUND


@pytest.mark.parametrize("room", sorted(set(ALLOWED) & set(rooms())))
def test_a_step_imports_the_ground_and_words_alone(room: str) -> None:
    """Steps do not know each other; only the pipeline joins them."""
    assert imports_of(room) <= GROUND | ALLOWED[room]


def modules() -> dict[str, set[str]]:
    """List what each module of the package imports of it, wherever the import stands."""
    names = {
        ".".join(("reelnotes", *path.relative_to(PACKAGE).with_suffix("").parts)): path
        for path in PACKAGE.rglob("*.py")
    }
    found: dict[str, set[str]] = {}
    for name, path in names.items():
        of = [
            node for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.ImportFrom)
        ]
        whole = {node.module or "" for node in of}
        parts = {f"{node.module}.{alias.name}" for node in of for alias in node.names}
        found[name] = ((whole | parts) & names.keys()) - {name}
    return found


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Whoever reads a module can read what it stands on first, down to the ground."""
    order = list(TopologicalSorter(modules()).static_order())
    assert order.index("reelnotes.problems") < order.index("reelnotes.pipeline.episode")


def test_the_rule_would_notice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A step that imports another step is seen."""
    (tmp_path / "risk").mkdir()
    (tmp_path / "risk" / "x.py").write_text("def f():\n    from reelnotes.align.path import y\n")
    monkeypatch.setattr(sys.modules[__name__], "PACKAGE", tmp_path)
    assert imports_of("risk") == {"align"}


def loaded_by(code: str) -> set[str]:
    """Run code in a fresh Python and list the modules it loaded."""
    script = f"import sys\n{code}\nprint('\\n'.join(sys.modules), file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return {name.split(".")[0] for name in done.stderr.split()}


@pytest.mark.parametrize(
    ("words", "of_typers_own"),
    [
        (["--help"], set()),
        (["--version"], set()),
        (["start", "--help"], {"pydantic"}),
        (["draft", "--help"], {"pydantic"}),
    ],
)
def test_help_loads_nothing_heavy(words: list[str], of_typers_own: set[str]) -> None:
    """Help is instant: nothing of ours loads pydantic, jinja2, rapidfuzz or numpy for it.

    Below a command typer itself loads pydantic, for its own `--help` option.
    """
    code = (
        f"sys.argv = ['reelnotes', *{words!r}]\nfrom reelnotes.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass"
    )
    heavy = {"pydantic", "jinja2", "rapidfuzz", "numpy", "srt", "Stemmer", "tomlkit"}
    assert loaded_by(code) & heavy <= of_typers_own


def test_only_the_store_writes() -> None:
    """No other module opens a file for writing."""
    offenders = {
        str(file.relative_to(PACKAGE))
        for file in PACKAGE.rglob("*.py")
        if file.name != "store.py" and writes(file.read_text(encoding="utf-8"))
    }
    assert offenders == {"cli/__init__.py"}, "cli/__init__.py opens the null device for a broken pipe"


def writes(code: str) -> bool:
    """Tell whether code holds a call that changes the disk."""
    changing = {"write_text", "write_bytes", "replace", "rename", "unlink", "touch", "mkstemp", "fdopen"}
    for node in ast.walk(ast.parse(code)):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        owner = ast.unparse(node.func).partition(".")[0]
        modes = [
            a.value for a in [*node.args, *(k.value for k in node.keywords)] if isinstance(a, ast.Constant)
        ]
        handed_over = owner == "av" and [ast.unparse(a) for a in node.args[:1]] == [
            "file"
        ]  # a handle that store opened
        if (
            name == "open"
            and not handed_over
            and (owner == "os" or any(isinstance(m, str) and set(m) & set("wax+") for m in modes))
        ):
            return True
        if name in changing and (name != "replace" or owner == "os"):
            return True
    return False


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ("open('x', 'w')", True),
        ("path.open(mode='ab')", True),
        ("path.write_text('x')", True),
        ("os.replace(a, b)", True),
        ("path.open('rb')", False),
        ("av.open(str(path), 'w')", True),
        ("av.open(file, 'w')", False),
        ("av.open(str(path))", False),
        ("text.replace('a', 'b')", False),
        ("replace(draft, title='w')", False),
    ],
)
def test_the_look_for_writing_would_notice(code: str, found: bool) -> None:
    """Calls that change the disk are seen, others are not."""
    assert writes(code) is found
