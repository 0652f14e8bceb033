"""The lab folder: finding it, making it, opening its database."""

from __future__ import annotations

import sqlite3
import sys
from pathlib import Path

from stillroom.errors import BadInput

SETTINGS = "lab.toml"
DATABASE = "lab.sqlite"
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
    """Open the lab's database: WAL, foreign keys, a patient lock; transactions are begun by hand."""
    refuse_network_drive(lab)
    connection = sqlite3.connect(lab / DATABASE, isolation_level=None, timeout=30)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA busy_timeout = 30000")
    return connection


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
        import ctypes

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
