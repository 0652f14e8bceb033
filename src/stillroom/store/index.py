"""The index: what the journal says now, one table per kind of record. It may be rebuilt at any time."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

from stillroom.records.fields import columns, from_json, from_sql, sql_table, sql_values
from stillroom.records.kinds import KINDS
from stillroom.store import journal
from stillroom.store.journal import WITHDRAWN, Entry

_STATE = "CREATE TABLE IF NOT EXISTS index_state (one INTEGER PRIMARY KEY, shape TEXT, upto INTEGER)"


def _shape() -> str:
    """The form of all tables as text: when it changes, the index is rebuilt."""
    return "\n".join(sql_table(record) for record in KINDS.values())


def prepare(connection: sqlite3.Connection) -> None:
    """Make the index where there is none, rebuild it where its form changed, bring it up to the journal."""
    connection.execute(_STATE)
    state = connection.execute("SELECT shape, upto FROM index_state").fetchone()
    end = connection.execute("SELECT COALESCE(MAX(sequence), 0) FROM journal").fetchone()[0]
    if state is None or state[0] != _shape():
        rebuild(connection)
    elif state[1] != end:
        _take(connection)


def rebuild(connection: sqlite3.Connection) -> None:
    """Make the index anew from the journal, in one transaction."""
    with connection:
        connection.execute("BEGIN IMMEDIATE")
        fill(connection, journal.entries(connection))


def fill(connection: sqlite3.Connection, written: Iterable[Entry]) -> None:
    """Make the index anew from the entries of a whole journal, within the caller's transaction."""
    connection.execute(_STATE)
    for kind, record in KINDS.items():
        connection.execute(f'DROP TABLE IF EXISTS "{kind}"')
        connection.execute(sql_table(record))
    connection.execute("DELETE FROM index_state")
    connection.execute("INSERT INTO index_state VALUES (1, ?, 0)", (_shape(),))
    for entry in written:
        put(connection, entry)


def _take(connection: sqlite3.Connection) -> None:
    """Bring into the index what has been written since, in one transaction."""
    with connection:
        connection.execute("BEGIN IMMEDIATE")
        upto = connection.execute("SELECT upto FROM index_state").fetchone()[0]
        for entry in journal.entries(connection, after=upto):
            put(connection, entry)


def put(connection: sqlite3.Connection, entry: Entry) -> None:
    """Bring one entry into the index, within the caller's transaction."""
    if entry.kind == WITHDRAWN:
        kind = str(entry.body.get("kind"))
        if kind in KINDS:
            connection.execute(f'DELETE FROM "{kind}" WHERE name = ?', (entry.name,))
    elif entry.kind in KINDS:
        record = from_json(KINDS[entry.kind], entry.body)
        values = [entry.name, entry.sequence, *sql_values(record)]
        marks = ", ".join("?" * len(values))
        connection.execute(f'INSERT OR REPLACE INTO "{entry.kind}" VALUES ({marks})', values)
    connection.execute("UPDATE index_state SET upto = ?", (entry.sequence,))


def rows_of(connection: sqlite3.Connection, kind: str) -> list[tuple[Any, ...]]:
    """All rows of a kind's table, by name: two indexes of one journal have the same."""
    return connection.execute(f'SELECT * FROM "{KINDS[kind].kind}" ORDER BY name').fetchall()


def current(connection: sqlite3.Connection, record: type[Any]) -> dict[str, Any]:
    """All records of a kind that stand now, by name, in the order in which they were last written.

    Equal JSON (a layout, say) is read once and is the same object in all of them.
    """
    fields = ", ".join(f'"f_{each.field}"' for each in columns(record))
    rows = connection.execute(f'SELECT name, {fields} FROM "{record.kind}" ORDER BY entry')
    parse = lru_cache(maxsize=None)(json.loads)
    return {row[0]: from_sql(record, row[1:], parse) for row in rows}


def entry_of(connection: sqlite3.Connection, kind: str, name: str) -> int:
    """The sequence number of the entry from which a record stands; 0 where it doesn't."""
    row = connection.execute(f'SELECT entry FROM "{KINDS[kind].kind}" WHERE name = ?', (name,)).fetchone()
    return int(row[0]) if row else 0
