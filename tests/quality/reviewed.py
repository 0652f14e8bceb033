"""A laboratory made from the demo's exports, reduced with few trials, and looked through."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from stillroom.demo.truth import Truth
from stillroom.demo.write import SEED, write_exports
from stillroom.lab.book import Book, open_book
from stillroom.lab.facts.airflow_facts import AirflowGathering
from stillroom.lab.facts.kept_values import kept_values
from stillroom.lab.findings import findings
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.quality.facts import FanFacts
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab


@dataclass(frozen=True)
class Reviewed:
    """Where the lab is, what its findings were, what is true, and the facts of its fans."""

    path: Path
    book: Book
    graph: Graph
    findings: list[Finding]
    truth: Truth
    facts: dict[str, FanFacts]


def reviewed(base: Path, *, faults: bool, seed: int = SEED) -> Reviewed:
    truth = write_exports(base / "files", faults=faults, seed=seed)
    path = base / "lab"
    folder.make(path, template("Heather Lab").replace("# trials = 2000", "trials = 500"))
    with Lab(path) as lab:
        bring_in(lab, [base / "files"], {})
        book, graph, found = look_through(lab)
        gathering = AirflowGathering(lab, book, graph, kept_values(lab, book, graph))
        facts = {name: gathering.fan(name, graph.mountings(name)) for name in book.fans}
    return Reviewed(path, book, graph, found, truth, facts)


def look_through(lab: Lab) -> tuple[Book, Graph, list[Finding]]:
    """Reduce what is missing in this process, and ask for the findings."""
    book = open_book(lab)
    graph = build_graph(book)
    reduce_lab(lab, graph, workers=1)
    return book, graph, findings(lab, book, graph)


def blocking(found: list[Finding]) -> list[Finding]:
    return [each for each in found if each.blocks]
