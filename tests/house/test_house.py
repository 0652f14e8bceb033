"""The house: which room may import which, read from the code itself.

An allow-list: what isn't allowed is forbidden. Each offence is named with its file and line.
"""

from __future__ import annotations

import ast
import graphlib
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "stillroom"

GROUND = {"vocabulary", "errors"}
FLOOR_4 = {"core", "records", *GROUND}
FLOORS_1_TO_5 = {
    *FLOOR_4,
    "readers",
    "methods",
    "store",
    "measures",
    "compare",
    "charts",
    "quality",
    "wording",
}
FLOORS_1_TO_6 = {*FLOORS_1_TO_5, "lab"}
FLOORS_1_TO_7 = {*FLOORS_1_TO_6, "publish", "plan", "live"}

# Room: what of ours it may import (itself always).
ROOMS: dict[str, set[str]] = {
    "errors": set(),
    "vocabulary": {"errors"},
    "core": {"errors"},
    "records": {*GROUND, "core"},
    "readers": {*GROUND, "records"},
    "store": {*GROUND, "records"},
    "methods": FLOOR_4,
    "measures": FLOOR_4,
    "compare": {*FLOOR_4, "measures"},
    "wording": {*GROUND, "records"},
    "quality": {*FLOOR_4, "measures"},
    "charts": {*GROUND, "records", "wording"},
    "lab": FLOORS_1_TO_5,
    "publish": FLOORS_1_TO_6,
    "plan": FLOORS_1_TO_6,
    "live": FLOORS_1_TO_6,
    "verbs": {*FLOORS_1_TO_7, "demo"},
    "cli": {"verbs", "wording", "records", "errors"},
    "web": {"verbs", "wording", "records", "errors"},
    "demo": {"vocabulary"},
    "__main__": {"cli"},
    "__init__": {"verbs", "errors"},
}
# Slow third-party packages may be imported inside functions here, so that the command line starts quickly.
LATE = {"cli", "charts", "readers"}
# Pure calculation: no file, clock, table or plot library.
OUTSIDE_OF_CORE = {
    *("__future__", "abc", "bisect", "collections", "concurrent", "dataclasses", "enum", "fractions"),
    *(
        "functools",
        "hashlib",
        "heapq",
        "itertools",
        "math",
        "numbers",
        "operator",
        "statistics",
        "struct",
        "typing",
    ),
    *("numpy", "scipy"),
}
# Two doors without arithmetic, SQL or file formats.
NOT_AT_THE_DOORS = {"csv", "math", "numpy", "scipy", "sqlite3", "statistics"}
LINES = 400
IMPORT_NAMES = {
    "fonttools": "fontTools",
    "vl-convert-python": "vl_convert",
    "python-calamine": "python_calamine",
}


@dataclass(frozen=True)
class Import:
    """One module named by one import statement: `target` is dotted; `late` means inside a function."""

    file: Path
    line: int
    target: str
    late: bool

    @property
    def top(self) -> str:
        return self.target.split(".")[0]


def module_name(file: Path, source: Path) -> str:
    parts = ("stillroom", *file.relative_to(source).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(file: Path, source: Path) -> str:
    return file.relative_to(source).with_suffix("").parts[0]


def imports_of(file: Path, source: Path) -> list[Import]:
    """Every import of a file, with relative ones made absolute; those for type checking count as well."""
    package = (*module_name(file, source).split("."), "x")[: len(file.relative_to(source).parts)]
    found: list[Import] = []

    def visit(node: ast.AST, late: bool) -> None:
        for child in ast.iter_child_nodes(node):
            inside = late or isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            if isinstance(child, ast.Import):
                found.extend(Import(file, child.lineno, alias.name, late) for alias in child.names)
            elif isinstance(child, ast.ImportFrom):
                base = package[: len(package) - child.level + 1] if child.level else ()
                start = ".".join([*base, *([child.module] if child.module else [])])
                found.extend(
                    Import(file, child.lineno, f"{start}.{alias.name}", late) for alias in child.names
                )
            visit(child, inside)

    visit(ast.parse(file.read_text(encoding="utf-8"), str(file)), late=False)
    return found


def declared() -> set[str]:
    """The names under which the declared dependencies are imported."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = (entry.split(">")[0].split("=")[0].strip() for entry in project["dependencies"])
    return {IMPORT_NAMES.get(name, name) for name in names}


def offence(found: Import, room: str, packages: set[str]) -> str | None:
    """What is wrong with an import, or None."""
    if room not in ROOMS:
        return f"the room '{room}' is not in the list of rooms"
    return (
        offence_of_ours(found, room) if found.top == "stillroom" else offence_of_others(found, room, packages)
    )


def offence_of_ours(found: Import, room: str) -> str | None:
    """What is wrong with an import of the house's own, or None."""
    goal = [*found.target.split("."), "__init__"][1]
    if found.late:
        return f"imports {found.target} inside a function"
    if goal != room and goal not in ROOMS[room]:
        return f"'{room}' may not import '{goal}'"
    return None


def offence_of_others(found: Import, room: str, packages: set[str]) -> str | None:
    """What is wrong with an import of the standard library or of a package, or None."""
    standard = found.top in sys.stdlib_module_names
    wrong = {
        f"imports {found.top} inside a function": found.late and (standard or room not in LATE),
        f"{found.top} is not a declared dependency": not standard and found.top not in packages,
        f"'core' only calculates; it may not import {found.top}": room == "core"
        and found.top not in OUTSIDE_OF_CORE,
        f"a door may not import {found.top}": room in {"cli", "web"} and found.top in NOT_AT_THE_DOORS,
    }
    return next((words for words, applies in wrong.items() if applies), None)


def offences(source: Path) -> Iterator[str]:
    """Every offence of a source tree against the house, as `file:line: what`."""
    packages = declared()
    files = sorted(source.rglob("*.py"))
    modules = {module_name(file, source): file for file in files}
    graph: dict[str, set[str]] = {}
    for file in files:
        place = file.relative_to(source.parent)
        lines = len(file.read_text(encoding="utf-8").splitlines())
        if lines > LINES:
            yield f"{place}:{LINES + 1}: {lines} lines; a file holds at most {LINES}"
        found = imports_of(file, source)
        wrong = ((each.line, offence(each, room_of(file, source), packages)) for each in found)
        yield from dict.fromkeys(f"{place}:{line}: {words}" for line, words in wrong if words)
        name = module_name(file, source)
        targets = {
            each.target if each.target in modules else each.target.rpartition(".")[0] for each in found
        }
        graph[name] = targets & modules.keys() - {name}
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        circle = error.args[1]
        yield f"{modules[circle[0]].relative_to(source.parent)}:1: a circle of imports: {' < '.join(circle)}"


def test_the_house_stands() -> None:
    assert "\n".join(offences(SOURCE)) == ""


BAD_FILES = [
    ("core/air.py", "from stillroom.records import fan\n", "core/air.py:1: 'core' may not import 'records'"),
    ("core/air.py", "x = 1\nfrom ..lab import graph\n", "core/air.py:2: 'core' may not import 'lab'"),
    ("core/standards/x.py", "from ...demo import fan\n", "x.py:1: 'core' may not import 'demo'"),
    ("core/air.py", "import pathlib\n", "core/air.py:1: 'core' only calculates; it may not import pathlib"),
    ("demo/fan.py", "import stillroom.core.air\n", "demo/fan.py:1: 'demo' may not import 'core'"),
    ("demo/fan.py", "from stillroom import core\n", "demo/fan.py:1: 'demo' may not import 'core'"),
    ("cli/main.py", "import sqlite3\n", "cli/main.py:1: a door may not import sqlite3"),
    ("lab/run.py", "import pandas\n", "lab/run.py:1: pandas is not a declared dependency"),
    ("lab/run.py", "def f():\n    import scipy\n", "lab/run.py:2: imports scipy inside a function"),
    ("cli/main.py", "def f():\n    import json\n", "cli/main.py:2: imports json inside a function"),
    ("charts/a.py", "def f():\n    import stillroom.wording\n", "a.py:2: imports stillroom.wording inside"),
    ("gadgets/a.py", "import math\n", "gadgets/a.py:1: the room 'gadgets' is not in the list of rooms"),
    (
        "store/a.py",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from stillroom.lab import x\n",
        "store/a.py:3: 'store' may not import 'lab'",
    ),
    ("core/long.py", "x = 1\n" * 401, "core/long.py:401: 401 lines"),
]


@pytest.mark.parametrize(("name", "text", "expected"), BAD_FILES)
def test_an_offence_is_named_with_its_file_and_line(
    tmp_path: Path, name: str, text: str, expected: str
) -> None:
    file = tmp_path / "stillroom" / name
    file.parent.mkdir(parents=True)
    file.write_text(text, encoding="utf-8")
    assert [line for line in offences(tmp_path / "stillroom") if expected in line]


def test_a_circle_is_named(tmp_path: Path) -> None:
    room = tmp_path / "stillroom" / "core"
    room.mkdir(parents=True)
    (room / "__init__.py").touch()
    (room / "a.py").write_text("from stillroom.core.b import f\n", encoding="utf-8")
    (room / "b.py").write_text("from stillroom.core import c\n", encoding="utf-8")
    (room / "c.py").write_text("from .a import g\n", encoding="utf-8")
    (line,) = offences(tmp_path / "stillroom")
    assert "a circle of imports" in line
    assert all(f"stillroom.core.{name}" in line for name in "abc")


def test_what_is_allowed_is_let_through(tmp_path: Path) -> None:
    room = tmp_path / "stillroom" / "charts"
    room.mkdir(parents=True)
    (room / "bars.py").write_text(
        "from stillroom.records import fan\nfrom . import theme\n\n\ndef f():\n    import altair\n",
        encoding="utf-8",
    )
    assert list(offences(tmp_path / "stillroom")) == []
