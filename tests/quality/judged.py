"""Laboratories with known faults, brought in the public way, and what of their findings is right or false."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from stillroom.lab.book import Book, open_book, place_all
from stillroom.lab.findings import findings
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

STATEMENTS = frozenset({4, 23, 25, 27, 28, 31, 32, 33, 39, 40, 42, 43, 48, 49})
"""Rules whose marks say what a lab lacks or how a fan is, and nothing against a reading."""


@dataclass(frozen=True)
class Seeded:
    """A fault that was made: on which mounting, in which one sweep (setting [SI], None for all), which rules may
    tell of it, and words that the cause must hold."""

    name: str
    mounting: str
    setting: float | None
    rules: tuple[int, ...]
    words: str


@dataclass(frozen=True)
class Judged:
    """A laboratory that was looked through."""

    path: Path
    book: Book
    graph: Graph
    findings: list[Finding]

    def runs(self, mounting: str, setting: float | None = None) -> set[str]:
        """Subjects of a mounting's sweeps, at one setting or at all."""
        placed = [each for each in place_all(self.book) if each.mounting == mounting]
        return {
            f"run:{each.run}"
            for each in placed
            if setting is None or (each.setting is not None and abs(each.setting - setting) < 1e-6)
        }

    def about(self, fault: Seeded) -> list[Finding]:
        """The findings on the subject of a fault: the one sweep that is wrong, else the mounting and its sweeps."""
        wanted = self.runs(fault.mounting, fault.setting)
        if fault.setting is None:
            wanted |= {f"mounting:{fault.mounting}"}
        return [each for each in self.findings if each.subject in wanted]

    def clean(self, faults: Sequence[Seeded], affected: Iterable[str] = ()) -> set[str]:
        """Subjects of all mountings and sweeps in which nothing is wrong."""
        whole = {each.mounting for each in faults if each.setting is None} | set(affected)
        touched = whole | {each.mounting for each in faults}
        subjects = {
            f"mounting:{each.mounting}" for each in place_all(self.book) if each.mounting not in touched
        }
        subjects |= {f"run:{each.run}" for each in place_all(self.book) if each.mounting not in whole}
        for each in faults:
            if each.setting is not None:
                subjects -= self.runs(each.mounting, each.setting)
        return subjects - {"mounting:"}

    def false(self, clean: set[str]) -> list[Finding]:
        """Findings that hold something against a clean mounting or sweep."""
        return [
            each for each in self.findings
            if each.subject in clean and (each.blocks or each.rule not in STATEMENTS)
        ]  # fmt: skip


def judge(base: Path, files: Path, settings: str = "") -> Judged:
    """Bring a folder in, reduce it with few trials, and ask for the findings."""
    path = base / "lab"
    folder.make(path, template("A lab").replace("# trials = 2000", "trials = 500") + settings)
    with Lab(path) as lab:
        bring_in(lab, [files], {})
        book = open_book(lab)
        graph = build_graph(book)
        reduce_lab(lab, graph, workers=1)
        return Judged(path, book, graph, findings(lab, book, graph))
