"""What decisions exclude, as the graph asks for it: by subject and key, so that it lapses when the key moves."""

from __future__ import annotations

from collections.abc import Collection
from typing import TypeAlias

from stillroom.lab.book import Book

Judged: TypeAlias = tuple[str, str]
"""(subject, key) of a run or a mounting as it was when somebody judged it."""

Excluded: TypeAlias = Collection[Judged]
"""What people have excluded."""


def excluded_in(book: Book) -> set[Judged]:
    """What people have excluded in a lab."""
    return {(each.subject, each.key) for each in book.decisions.values() if each.action == "exclude"}
