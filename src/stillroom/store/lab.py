"""A lab that is open: one object with the folder, the database, and the few acts on them."""

from __future__ import annotations

import datetime as dt
import getpass
import sqlite3
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Any

from stillroom.records.settings import Settings, read_settings
from stillroom.store import folder, index, journal, results
from stillroom.store.journal import Entry, Note


class Lab:
    """An open lab. Use it in a `with`; everything that is written is written in whole transactions."""

    def __init__(self, path: Path) -> None:
        self.path = folder.find(path)
        self.settings: Settings = read_settings(self.path / folder.SETTINGS)
        self.database: sqlite3.Connection = folder.connect(self.path)
        journal.prepare(self.database)
        index.prepare(self.database)
        results.prepare(self.database)

    def __enter__(self) -> Lab:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.database.close()

    def write(self, notes: Iterable[Note], *, by: str = "") -> list[Entry]:
        """Write entries to the journal and bring them into the index: all of them or none."""
        with self.database:
            self.database.execute("BEGIN IMMEDIATE")
            written = journal.append(self.database, notes, time=now(), by=by or operator())
            for entry in written:
                index.put(self.database, entry)
        return written

    def current(self, record: type[Any]) -> dict[str, Any]:
        """All records of a kind that stand now, by name."""
        return index.current(self.database, record)

    def put_results(self, made: Iterable[results.Result]) -> None:
        """Keep results: all of them or none."""
        with self.database:
            self.database.execute("BEGIN IMMEDIATE")
            results.put(self.database, made)


def now() -> str:
    """The time of writing, local with its offset, to the second."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def operator() -> str:
    """Who is at the keyboard, as the computer knows it."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "unknown"
