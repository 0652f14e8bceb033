"""The lab folder: finding it, making it, opening its database."""

from __future__ import annotations

import ctypes
import sqlite3
import sys
import time
from pathlib import Path

from stillroom.errors import BadInput, LabDamaged, NotPossible, StillroomError
from stillroom.store import originals

SETTINGS = "lab.toml"
DATABASE = "lab.sqlite"
PATIENCE = 30.0
"""How long a program waits for another one's transaction [s]."""

_NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "fuse.sshfs", "afpfs", "webdav", "davfs"}


def find(start: Path) -> Path:
    """The nearest folder with a lab.toml, from `start` upwards.

    Raises
    ------
    BadInput : there is none.
    """
    here = start.resolve()
    for folder in (here, *here.parents):
        if (folder / SETTINGS).is_file():
            return folder
    raise BadInput(
        "lab",
        place=str(start),
        found=f"no {SETTINGS} here or in any folder above",
        expected="a lab folder: make one with `stillroom new DIR`, or name it with --lab DIR",
    )


def make(folder: Path, settings: str) -> None:
    """Make a lab folder with its settings, its places and an empty journal.

    Raises
    ------
    BadInput : the folder already is a lab, or holds something else, or lies on a network drive.
    """
    if (folder / SETTINGS).exists():
        raise BadInput("lab", place=str(folder), found="a lab that is already there", expected="a new folder")
    if folder.exists() and not folder.is_dir():
        raise BadInput("lab", place=str(folder), found="a file", expected="a folder")
    if folder.is_dir() and any(folder.iterdir()):
        raise BadInput(
            "lab", place=str(folder), found="a folder with files in it", expected="an empty folder"
        )
    for place in ("originals", "cache", "releases"):
        (folder / place).mkdir(parents=True, exist_ok=True)
    refuse_network_drive(folder)
    (folder / SETTINGS).write_text(settings, encoding="utf-8")


def connect(lab: Path) -> sqlite3.Connection:
    """Open the lab's database: WAL, foreign keys, a patient lock; transactions are begun by hand.

    Raises
    ------
    BadInput : the lab lies on a network drive.
    LabDamaged : there are originals, but the database that knows them is gone.
    sqlite3.Error : the database can't be opened; see `in_words`.
    """
    refuse_network_drive(lab)
    file = lab / DATABASE
    if not file.is_file() or file.stat().st_size == 0:
        refuse_lost_journal(lab)
    connection = sqlite3.connect(file, isolation_level=None, timeout=PATIENCE)
    try:
        _switch_to_wal(connection)
        connection.execute("PRAGMA synchronous = NORMAL")
        connection.execute("PRAGMA foreign_keys = ON")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _switch_to_wal(connection: sqlite3.Connection) -> None:
    """Switch to WAL; two programs that do it at once have to try again, as SQLite doesn't wait for that."""
    for pause in (0.02, 0.1, 0.5, 2.0, PATIENCE / 2):
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
                raise
            time.sleep(pause)
        else:
            return
    connection.execute("PRAGMA journal_mode = WAL")


def refuse_lost_journal(lab: Path) -> None:
    """Refuse to begin a new journal where originals lie that an old one knew.

    Raises
    ------
    LabDamaged : there are files among the originals.
    """
    first = next(originals.files(lab), None)
    if first is not None:
        raise LabDamaged(
            DATABASE,
            place=str(lab),
            found=f"no journal, but originals such as {first}",
            expected="the database that knows them: restore a backup with `stillroom restore FILE DIR`",
        )


def in_words(error: sqlite3.Error, lab: Path) -> StillroomError:
    """What went wrong with a lab's database, in plain words."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    place = str(lab / DATABASE)
    if code in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
        return NotPossible(
            "lab",
            place=place,
            found=f"another program that has been writing for {PATIENCE:.0f} s",
            expected="one at a time: try again when it has finished",
        )
    if code in {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH}:
        return BadInput("lab", place=place, found=str(error), expected="a folder that may be written to")
    if code == sqlite3.SQLITE_FULL:
        return NotPossible(
            "lab", place=place, found="a full disk", expected="room on the disk; nothing was lost"
        )
    return LabDamaged(
        "database", place=place, found=str(error), expected="Stillroom's own database; restore a backup"
    )


def refuse_network_drive(folder: Path) -> None:
    """Refuse a lab on a network drive: SQLite's locks can't be trusted there.

    Raises
    ------
    BadInput : the folder's file system is one that is reached over a network.
    """
    kind = _file_system(folder.resolve())
    if kind in _NETWORK:
        raise BadInput(
            "lab folder",
            place=str(folder),
            found=f"a network drive ({kind}), where the database's locks can't be trusted",
            expected="a local disk; several people share a lab through one computer",
        )


def _file_system(folder: Path) -> str:
    if sys.platform == "win32":
        drive = folder.drive + "\\"
        return "cifs" if ctypes.windll.kernel32.GetDriveTypeW(drive) == 4 else ""
    try:
        mounts = Path("/proc/mounts").read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    best, kind = "", ""
    for line in mounts:
        words = line.split(" ")
        if len(words) < 3:
            continue
        point = words[1].replace("\\040", " ")
        if (folder == Path(point) or Path(point) in folder.parents) and len(point) >= len(best):
            best, kind = point, words[2]
    return kind
