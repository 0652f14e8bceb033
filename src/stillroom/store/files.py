"""Writing files so that they are there whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import os
import time
import uuid
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

OLD_PART = 3600.0
"""Age from which a piece beside its place is left over, and not another program's work [s]."""

_NO_LINKS = {errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS}


def write_whole(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """Write a file beside its place, force it to disk, and rename it into place."""
    with _beside(path, write) as beside:
        beside.replace(path)


def write_new(path: Path, data: bytes | Iterable[bytes]) -> None:
    """Write a file that nobody may change, whole, where there is none yet: bytes, or blocks of them where they are
    many.

    Raises
    ------
    FileExistsError : there is one, perhaps put there by another program just now; it stays.
    """
    blocks = [data] if isinstance(data, bytes) else data
    with _beside(path, lambda file: file.writelines(blocks)) as beside:
        beside.chmod(0o444)
        _put_new(beside, path)


@contextmanager
def _beside(path: Path, write: Callable[[BinaryIO], object]) -> Iterator[Path]:
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{uuid.uuid4().hex}.part")
    try:
        with beside.open("wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        yield beside
    finally:
        beside.unlink(missing_ok=True)


def _put_new(beside: Path, path: Path) -> None:
    if os.name == "nt":
        beside.rename(path)  # refuses to replace
        return
    try:
        path.hardlink_to(beside)
    except FileExistsError:
        raise
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        if path.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        beside.rename(path)


def settle(folder: Path) -> None:
    """Force a folder's list of names to disk, where the system can: a rename then outlives a power cut."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes whole or not at all."""
    write_whole(path, lambda file: file.write(data))


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sweep_parts(folder: Path, older_than: float = OLD_PART) -> int:
    """Remove what an interrupted write left beside its place; the number of such pieces.

    Younger pieces (`older_than` [s]) stay: another program may be writing them.
    """
    now, swept = time.time(), 0
    for piece in folder.rglob(".*.part"):
        try:
            old = now - piece.stat().st_mtime > older_than
        except FileNotFoundError:
            continue
        if old and piece.is_file():
            if os.name == "nt":
                piece.chmod(0o666)
            piece.unlink(missing_ok=True)
            swept += 1
    return swept
