"""A lab with everything worked out: what the answering verbs start from."""

from __future__ import annotations

from stillroom.lab.book import Book, open_book
from stillroom.lab.executor import Progress
from stillroom.lab.findings import findings
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.store.lab import Lab


def up_to_date(opened: Lab, progress: Progress) -> tuple[Book, Graph, list[Finding]]:
    """An open lab with all curves worked out: its book, its recipe graph, and all findings."""
    book = open_book(opened)
    graph = build_graph(book)
    reduce_lab(opened, graph, progress=progress)
    return book, graph, findings(opened, book, graph)
