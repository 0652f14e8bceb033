"""A lab with one mounting, from its files: what can be seen when there is nothing else to compare with."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from reviewed import look_through

from stillroom.demo.write import write_exports
from stillroom.lab.intake.intake import bring_in
from stillroom.quality import Finding
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

MOUNTING = "Bracken/s1/m1"


@pytest.fixture(scope="module")
def exports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("first") / "files"
    write_exports(path, faults=False, seed=3)
    return path


def findings_with(base: Path, exports: Path, change: Callable[[str, str], str]) -> list[Finding]:
    """The findings of a lab that holds one mounting, each file of it changed as text."""
    files = sorted(each for each in (exports / "exports").rglob("*pct.*") if MOUNTING in each.as_posix())
    for each in files:
        path = base / "files" / each.relative_to(exports)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(change(each.stem, each.read_text(encoding="cp1252")), encoding="cp1252")
    for name in ("rigs.toml", "fans.csv"):
        (base / "files" / name).write_bytes((exports / name).read_bytes())
    rows = (exports / "runs.csv").read_text(encoding="utf-8").splitlines()
    kept = [rows[0], *(row for row in rows if MOUNTING in row)]
    (base / "files" / "runs.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    folder.make(base / "lab", template("First lab").replace("# trials = 2000", "trials = 500"))
    with Lab(base / "lab") as lab:
        bring_in(lab, [base / "files"], {})
        return look_through(lab)[2]


def listing(change: Callable[[Sequence[str]], Sequence[str]]) -> Callable[[str, str], str]:
    """The lists of open nozzles changed."""

    def changed(_stem: str, text: str) -> str:
        return re.sub(r"(?<![\w])N\d+(\+N\d+)*", lambda hit: "+".join(change(hit.group(0).split("+"))), text)

    return changed


def test_a_sound_mounting_has_nothing_that_blocks(tmp_path: Path, exports: Path) -> None:
    found = findings_with(tmp_path, exports, lambda _stem, text: text)
    assert [each.found for each in found if each.blocks] == []


def test_nozzles_under_each_others_names_are_named_by_one_mounting_alone(
    tmp_path: Path, exports: Path
) -> None:
    names = {"N12": "N16", "N16": "N12"}
    found = findings_with(tmp_path, exports, listing(lambda each: [names.get(one, one) for one in each]))
    causes = [each.cause for each in found if each.blocks and each.subject.startswith("mounting:")]
    assert any("nozzles N12 and N16 are exchanged in the list" in each for each in causes)


def test_a_mounting_without_a_curve_keeps_its_readings_for_the_rules(tmp_path: Path, exports: Path) -> None:
    """Speed columns of which half count twice the pulses: no curve fits, and the sizes tell which are wrong."""

    def doubled(stem: str, text: str) -> str:
        if stem not in {"25pct", "55pct", "100pct"}:
            return text
        lines = text.splitlines()
        separator = "\t" if "\t" in lines[0] else ","
        at = next(i for i, each in enumerate(lines[0].split(separator)) if each.startswith("speed"))
        changed = []
        for line in lines:
            cells = line.split(separator)
            if cells[at].replace(".", "").isdigit():
                cells[at] = str(2 * round(float(cells[at])))
            changed.append(separator.join(cells))
        return "\n".join(changed) + "\n"

    found = findings_with(tmp_path, exports, doubled)
    blocks = [each for each in found if each.blocks]
    assert blocks
    assert any("wrong pulses per revolution: the speed reads twice" in each.cause for each in blocks), [
        f"{each.rule} {each.subject} {each.found}: {each.cause}" for each in found
    ]
