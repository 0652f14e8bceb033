"""The journal: append-only entries in SQLite, each chained to the one before. It is the truth.

A correction is a new entry; nothing is updated or deleted, and the database itself refuses both. Each
entry carries the hash of the entry before it, so that a damaged or edited journal is seen by `verify`.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from stillroom.errors import LabDamaged

ORIGINAL = "original"
"""The kind of an entry that keeps a file: its name is the SHA-256 of the bytes, its original the place."""

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
CREATE TRIGGER IF NOT EXISTS journal_grows_at_its_end BEFORE INSERT ON journal
WHEN NEW.sequence IS NOT (SELECT COALESCE(MAX(sequence), 0) + 1 FROM journal)
BEGIN SELECT RAISE(ABORT, 'the journal is append-only: write the next entry'); END;
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
    if not exists(connection):
        connection.executescript(_TABLE)


def exists(connection: sqlite3.Connection) -> bool:
    """Whether the database has a journal."""
    query = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'journal'"
    return connection.execute(query).fetchone() is not None


def body_text(body: dict[str, Any]) -> str:
    """A body as it is stored: JSON in order, floats by their shortest exact form."""
    return json.dumps(body, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def link(before: str, entry: Entry) -> str:
    """The chain's hash of an entry, from the hash of the entry before it ("" for the first)."""
    words = (entry.time, entry.by, entry.kind, entry.name, body_text(entry.body), entry.original)
    return hashlib.sha256("\x1f".join([before, str(entry.sequence), *words]).encode()).hexdigest()


def append(connection: sqlite3.Connection, notes: Iterable[Note], *, time: str, by: str) -> list[Entry]:
    """Write entries at the journal's end, within the caller's transaction."""
    last = connection.execute("SELECT sequence, chain FROM journal ORDER BY sequence DESC LIMIT 1").fetchone()
    sequence, chain = last or (0, "")
    written = []
    for note in notes:
        sequence += 1
        entry = Entry(sequence, time, by, note.kind, note.name, note.body, note.original, "")
        chain = link(chain, entry)
        written.append(replace(entry, chain=chain))
    put(connection, written)
    return written


def put(connection: sqlite3.Connection, written: Iterable[Entry]) -> None:
    """Put entries into the table exactly as they are, within the caller's transaction."""
    rows = (
        (
            each.sequence,
            each.time,
            each.by,
            each.kind,
            each.name,
            body_text(each.body),
            each.original,
            each.chain,
        )
        for each in written
    )
    connection.executemany("INSERT INTO journal VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)


def entries(connection: sqlite3.Connection, after: int = 0) -> Iterator[Entry]:
    """The entries after a sequence number, in order.

    Raises
    ------
    LabDamaged : an entry's body is no JSON object.
    """
    yield from _entries(connection, "WHERE sequence > ?", (after,))


def last(connection: sqlite3.Connection) -> Entry | None:
    """The journal's last entry; None where there is none."""
    (upto,) = connection.execute("SELECT COALESCE(MAX(sequence), 0) FROM journal").fetchone()
    return next(_entries(connection, "WHERE sequence = ?", (upto,)), None)


def entries_of(connection: sqlite3.Connection, kind: str) -> list[Entry]:
    """All entries of a kind, in order."""
    return list(_entries(connection, "WHERE kind = ?", (kind,)))


def stood_at(connection: sqlite3.Connection, kind: str, name: str, sequence: int) -> dict[str, Any] | None:
    """The body by which a record stood when the journal was so long; None where it didn't stand.

    Raises
    ------
    LabDamaged : an entry's body is no JSON object.
    """
    query = (
        "SELECT sequence, kind, body FROM journal WHERE sequence <= ? AND name = ? AND kind IN (?, ?)"
        " ORDER BY sequence DESC"
    )
    for at, found, text in connection.execute(query, (sequence, name, kind, WITHDRAWN)):
        body = _body(at, text)
        if found == kind:
            return body
        if body.get("kind") == kind:
            return None
    return None


def _entries(connection: sqlite3.Connection, where: str, values: tuple[int | str]) -> Iterator[Entry]:
    query = (
        f"SELECT sequence, time, by, kind, name, body, original, chain FROM journal {where} ORDER BY sequence"
    )
    for sequence, time, by, kind, name, body, original, chain in connection.execute(query, values):
        yield Entry(sequence, time, by, kind, name, _body(sequence, body), original, chain)


def _body(sequence: int, text: str) -> dict[str, Any]:
    try:
        body = json.loads(text)
    except (ValueError, TypeError, RecursionError):
        body = None
    if not isinstance(body, dict):
        raise _broken(sequence, sequence)
    return body


def follow(written: Iterable[Entry]) -> Iterator[Entry]:
    """The same entries, each checked against the one before it.

    Raises
    ------
    LabDamaged : an entry is missing, or is not what it was when it was written.
    """
    count, chain = 0, ""
    for entry in written:
        if not follows(entry, count, chain):
            raise _broken(entry.sequence, count + 1)
        count, chain = entry.sequence, entry.chain
        yield entry


def follows(entry: Entry, count: int, chain: str) -> bool:
    """Whether an entry is the next one after `count` entries of which the last has the hash `chain`."""
    try:
        return entry.sequence == count + 1 and entry.chain == link(chain, entry)
    except (ValueError, TypeError):  # a body that can't have been written
        return False


def _broken(sequence: int, expected: int) -> LabDamaged:
    return LabDamaged(
        f"journal entry {sequence}",
        place="lab.sqlite",
        found="an entry that does not follow from the one before it",
        expected=f"entry {expected}, as it was written; restore a backup",
    )


def check(connection: sqlite3.Connection) -> int:
    """Follow the chain from the first entry to the last; the number of entries.

    Raises
    ------
    LabDamaged : an entry is missing, or is not what it was when it was written.
    """
    return sum(1 for _ in follow(entries(connection)))


def originals_known(connection: sqlite3.Connection) -> dict[str, str]:
    """The originals that the journal knows: {SHA-256: place}, in the order in which they came in."""
    query = "SELECT name, original FROM journal WHERE kind = ? ORDER BY sequence"
    return dict(connection.execute(query, (ORIGINAL,)))
