"""The journal: append-only entries in SQLite, each chained to the one before. It is the truth.

A correction is a new entry; nothing is updated or deleted, and the database itself refuses both. Each
entry carries the hash of the entry before it, so that a damaged or edited journal is seen by `verify`.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from stillroom.errors import LabDamaged

WITHDRAWN = "withdrawn"
"""The kind of an entry that takes a record out of use; its body names the record's kind."""

_TABLE = """
CREATE TABLE IF NOT EXISTS journal (
    sequence INTEGER PRIMARY KEY,
    time TEXT NOT NULL,
    by TEXT NOT NULL,
    kind TEXT NOT NULL,
    name TEXT NOT NULL,
    body TEXT NOT NULL,
    original TEXT NOT NULL,
    chain TEXT NOT NULL
);
CREATE TRIGGER IF NOT EXISTS journal_keeps_entries BEFORE UPDATE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: write a new entry'); END;
CREATE TRIGGER IF NOT EXISTS journal_loses_nothing BEFORE DELETE ON journal
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: write a new entry'); END;
"""


@dataclass(frozen=True)
class Note:
    """What is to be written: a record's kind, name and body, and the original and place it came from."""

    kind: str
    name: str
    body: dict[str, Any]
    original: str = ""


@dataclass(frozen=True)
class Entry:
    """One entry as it stands in the journal."""

    sequence: int
    time: str
    by: str
    kind: str
    name: str
    body: dict[str, Any]
    original: str
    chain: str


def prepare(connection: sqlite3.Connection) -> None:
    """Make the journal's table where there is none."""
    connection.executescript(_TABLE)


def body_text(body: dict[str, Any]) -> str:
    """A body as it is stored: JSON in order, floats by their shortest exact form."""
    return json.dumps(body, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _link(before: str, row: Sequence[str]) -> str:
    return hashlib.sha256("\x1f".join([before, *row]).encode()).hexdigest()


def append(connection: sqlite3.Connection, notes: Iterable[Note], *, time: str, by: str) -> list[Entry]:
    """Write entries at the journal's end, within the caller's transaction."""
    last = connection.execute("SELECT sequence, chain FROM journal ORDER BY sequence DESC LIMIT 1").fetchone()
    sequence, chain = last or (0, "")
    written = []
    for note in notes:
        sequence += 1
        text = body_text(note.body)
        chain = _link(chain, (str(sequence), time, by, note.kind, note.name, text, note.original))
        row = (sequence, time, by, note.kind, note.name, text, note.original, chain)
        connection.execute("INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row)
        written.append(Entry(sequence, time, by, note.kind, note.name, note.body, note.original, chain))
    return written


def entries(connection: sqlite3.Connection, after: int = 0) -> Iterator[Entry]:
    """The entries after a sequence number, in order."""
    rows = connection.execute(
        "SELECT sequence, time, by, kind, name, body, original, chain FROM journal"
        " WHERE sequence > ? ORDER BY sequence",
        (after,),
    )
    for sequence, time, by, kind, name, body, original, chain in rows:
        yield Entry(sequence, time, by, kind, name, json.loads(body), original, chain)


def check(connection: sqlite3.Connection) -> int:
    """Follow the chain from the first entry to the last; the number of entries.

    Raises
    ------
    LabDamaged : an entry is missing, or is not what it was when it was written.
    """
    chain, expected = "", 1
    for entry in entries(connection):
        words = (entry.time, entry.by, entry.kind, entry.name, body_text(entry.body), entry.original)
        chain = _link(chain, (str(entry.sequence), *words))
        if entry.sequence != expected or entry.chain != chain:
            raise LabDamaged(
                f"journal entry {entry.sequence}",
                place="lab.sqlite",
                found="an entry that does not follow from the one before it",
                expected=f"entry {expected}, as it was written; restore a backup",
            )
        expected += 1
    return expected - 1
