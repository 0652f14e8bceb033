"""Records that are not as they were at a place in the journal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.records.kinds import KINDS
from stillroom.store import journal
from stillroom.store.journal import WITHDRAWN, Entry
from stillroom.store.lab import Lab

UNSAID = frozenset({"layout", "release"})
"""Kinds that move nothing: ways of reading that were saved for other files, and that a release was frozen."""


@dataclass(frozen=True, eq=False)
class Turned:
    """A record before and now: the bodies, None where it didn't stand, and the entry that it changed by."""

    kind: str
    name: str
    before: Mapping[str, Any] | None
    now: Mapping[str, Any] | None
    entry: Entry

    @property
    def body(self) -> Mapping[str, Any]:
        """The record as it stands, or stood last."""
        return self.now or self.before or {}

    @property
    def verb(self) -> str:
        """What became of it in one word or two."""
        if self.now is None:
            return "withdrawn"
        return "new" if self.before is None else "told otherwise"


def turned_since(lab: Lab, sequence: int) -> tuple[Turned, ...]:
    """Every record whose body is not what it was at a place in the journal, in the order of the last entries.

    One that changed and was taken back since is as it was.
    """
    last: dict[tuple[str, str], Entry] = {}
    for entry in journal.entries(lab.database, after=sequence):
        kind = str(entry.body.get("kind")) if entry.kind == WITHDRAWN else entry.kind
        if kind in KINDS and kind not in UNSAID:
            last[(kind, entry.name)] = entry
    found = []
    for (kind, name), entry in sorted(last.items(), key=lambda each: each[1].sequence):
        before = journal.stood_at(lab.database, kind, name, sequence)
        now = None if entry.kind == WITHDRAWN else entry.body
        if before != now:
            found.append(Turned(kind, name, before, now, entry))
    return tuple(found)
