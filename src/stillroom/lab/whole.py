"""A lab with everything worked out: what every answer starts from."""

from __future__ import annotations

from typing import NamedTuple

from stillroom.lab.book import Book, open_book
from stillroom.lab.executor import Progress, silent
from stillroom.lab.findings import findings
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.store.lab import Lab


class Whole(NamedTuple):
    """An open lab with all curves worked out: its records, its recipe graph, and all findings."""

    lab: Lab
    book: Book
    graph: Graph
    found: list[Finding]

    def again(self) -> Whole:
        """The same with the records as they stand now: an answer may have agreed on a spread."""
        return self._replace(book=open_book(self.lab))


def worked_out(lab: Lab, progress: Progress = silent) -> Whole:
    """Work out what is missing in an open lab, and look for findings."""
    book = open_book(lab)
    graph = build_graph(book)
    reduce_lab(lab, graph, progress=progress)
    return Whole(lab, book, graph, findings(lab, book, graph))
