"""A lab that is open: one object with the folder, the database, and the few acts on them."""

from __future__ import annotations

import datetime as dt
import getpass
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from stillroom.records.settings import Settings, read_settings
from stillroom.store import folder, index, journal, results
from stillroom.store.journal import Entry, Note


class Lab:
    """An open lab. Use it in a `with`; everything that is written is written in whole transactions.

    Raises
    ------
    BadInput : no lab there, wrong settings, a network drive, or a folder that may not be written to.
    LabDamaged : the database is not one, or is gone while there are originals.
    NotPossible : another program keeps the database for too long, or the disk is full.
    """

    def __init__(self, path: Path) -> None:
        self.path = folder.find(path)
        self.settings: Settings = read_settings(self.path / folder.SETTINGS)
        try:
            self.database: sqlite3.Connection = folder.connect(self.path)
        except sqlite3.Error as error:
            raise folder.in_words(error, self.path) from error
        try:
            self._prepare()
        except sqlite3.Error as error:
            self.database.close()
            raise folder.in_words(error, self.path) from error
        except BaseException:
            self.database.close()
            raise

    def _prepare(self) -> None:
        if not journal.exists(self.database):
            folder.refuse_lost_journal(self.path)
            journal.prepare(self.database)
            self.database.execute("PRAGMA wal_checkpoint(FULL)")
        index.prepare(self.database)
        results.prepare(self.database)

    def __enter__(self) -> Lab:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.database.close()
        if isinstance(error, sqlite3.Error):
            raise folder.in_words(error, self.path) from error

    def write(self, notes: Iterable[Note], *, by: str = "") -> list[Entry]:
        """Write entries to the journal and bring them into the index: all of them or none."""
        with self.writing():
            return self.append(notes, by=by)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """A transaction in which nobody else writes: what is read inside still stands when it is written.

        When it has ended, what was written outlives a power cut.
        """
        self.database.execute("PRAGMA synchronous = FULL")
        try:
            with self.database:
                self.database.execute("BEGIN IMMEDIATE")
                yield
        finally:
            self.database.execute("PRAGMA synchronous = NORMAL")

    def append(self, notes: Iterable[Note], *, by: str = "") -> list[Entry]:
        """Write entries within `writing`."""
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


Progress = Callable[[str, int, int], None]
"""Told of progress: what is being done, how many are done, how many there are."""


def silent(_what: str, _done: int, _all: int) -> None:
    """The progress that nobody looks at."""


def now() -> str:
    """The time of writing, local with its offset, to the second."""
    return dt.datetime.now().astimezone().isoformat(timespec="seconds")


def operator() -> str:
    """Who is at the keyboard, as the computer knows it."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return "unknown"
