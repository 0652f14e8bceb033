"""Results by key: a summary in the database, the arrays in a file of the cache.

The cache may be deleted at any time: a result whose arrays are gone counts as not there.
"""

from __future__ import annotations

import json
import sqlite3
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.errors import LabDamaged
from stillroom.store.files import write_whole

_TABLE = """
CREATE TABLE IF NOT EXISTS results (
    key TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    subject TEXT NOT NULL,
    inputs TEXT NOT NULL,
    method TEXT NOT NULL,
    arrays INTEGER NOT NULL,
    failed TEXT NOT NULL,
    body TEXT NOT NULL
)
"""


@dataclass(frozen=True)
class Result:
    """What a method made: its key, the keys of its inputs by role, the method with its version, the numbers.

    `failed` is the error's words when the method could not: a flag, never a number.
    """

    key: str
    kind: str
    subject: str
    inputs: dict[str, Any]
    method: str
    arrays: bool
    body: dict[str, Any]

    @property
    def failed(self) -> str:
        """Why there is no number, or ""."""
        return str(self.body.get("failed", ""))


def prepare(connection: sqlite3.Connection) -> None:
    """Make the table where there is none; one of another form is dropped, as results can be made anew."""
    query = "SELECT sql FROM sqlite_master WHERE name = 'results'"
    there = connection.execute(query).fetchone()
    if there is not None and there[0].split("(", 1)[1] != _TABLE.strip().split("(", 1)[1]:
        connection.execute("DROP TABLE results")
    connection.execute(_TABLE)


def array_file(lab: Path, key: str) -> Path:
    """Where a result's arrays lie."""
    return lab / "cache" / key[:2] / f"{key}.npz"


def save_arrays(lab: Path, key: str, arrays: Mapping[str, NDArray[Any]]) -> None:
    """Write a result's arrays, whole or not at all."""
    path = array_file(lab, key)
    try:
        write_whole(path, lambda file: np.savez(file, **dict(arrays)))  # type: ignore[arg-type]
    except PermissionError:
        if (
            not path.is_file()
        ):  # else another program is just reading the same arrays, which some systems guard
            raise


def load_arrays(lab: Path, key: str) -> dict[str, NDArray[Any]]:
    """A result's arrays.

    Raises
    ------
    LabDamaged : the file is not there any more, or isn't what was written.
    """
    path = array_file(lab, key)
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            return {name: arrays[name] for name in arrays.files}
    except (OSError, ValueError, EOFError, zipfile.BadZipFile, zlib.error) as error:
        raise LabDamaged(
            f"arrays of result {key}",
            place=path.relative_to(lab).as_posix(),
            found=f"a file that can't be read ({error})" if path.is_file() else "no such file",
            expected="what was worked out: `stillroom verify`, then `stillroom reduce`",
        ) from error


def put(connection: sqlite3.Connection, results: Iterable[Result]) -> None:
    """Keep results, in the caller's transaction; their arrays are already in the cache."""
    connection.executemany(
        "INSERT OR REPLACE INTO results VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                each.key,
                each.kind,
                each.subject,
                json.dumps(each.inputs, sort_keys=True),
                each.method,
                int(each.arrays),
                each.failed,
                json.dumps(each.body, ensure_ascii=False),
            )
            for each in results
        ],
    )


_COLUMNS = "key, kind, subject, inputs, method, arrays, body"


def _result(row: tuple[Any, ...]) -> Result:
    key, kind, subject, inputs, method, arrays, body = row
    return Result(key, kind, subject, json.loads(inputs), method, bool(arrays), json.loads(body))


def get(connection: sqlite3.Connection, key: str) -> Result | None:
    """The result of a key, or None."""
    row = connection.execute(f"SELECT {_COLUMNS} FROM results WHERE key = ?", (key,)).fetchone()
    return _result(row) if row else None


def starting_with(connection: sqlite3.Connection, prefix: str) -> list[Result]:
    """The results whose key starts with these digits."""
    rows = connection.execute(
        f"SELECT {_COLUMNS} FROM results WHERE key >= ? AND key < ? ORDER BY key LIMIT 20",
        (prefix, prefix + "g"),
    )
    return [_result(row) for row in rows]


def inputs_of(connection: sqlite3.Connection, keys: Iterable[str]) -> dict[str, tuple[str, dict[str, Any]]]:
    """{key: (kind of the result, keys of its inputs by role)} of those of these keys that have a result."""
    query = f"SELECT key, kind, inputs FROM results WHERE {_AMONG}"
    rows = connection.execute(query, (json.dumps(list(keys)),))
    return {key: (kind, json.loads(inputs)) for key, kind, inputs in rows}


def known(connection: sqlite3.Connection, lab: Path, keys: Iterable[str]) -> set[str]:
    """Which of these keys have a result whose arrays, if it has any, are in the cache."""
    rows = connection.execute(f"SELECT key, arrays FROM results WHERE {_AMONG}", (json.dumps(list(keys)),))
    return {key for key, arrays in rows if not arrays or array_file(lab, key).is_file()}


def failures(connection: sqlite3.Connection, keys: Iterable[str]) -> dict[str, str]:
    """Those of these keys whose method could not, with its words."""
    query = f"SELECT key, failed FROM results WHERE failed != '' AND {_AMONG}"
    return dict(connection.execute(query, (json.dumps(list(keys)),)))


_AMONG = "key IN (SELECT value FROM json_each(?))"
