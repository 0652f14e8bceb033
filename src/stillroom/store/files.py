"""Writing files so that they are there whole or not at all."""

from __future__ import annotations

import hashlib
import os
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO


def write_whole(path: Path, write: Callable[[BinaryIO], object]) -> None:
    """Write a file beside its place, force it to disk, and rename it into place."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name[:60]}.{uuid.uuid4().hex[:8]}.part")
    try:
        with beside.open("wb") as file:
            write(file)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes whole or not at all."""
    write_whole(path, lambda file: file.write(data))


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sweep_parts(folder: Path) -> int:
    """Remove what an interrupted write left beside its place; the number of such pieces."""
    pieces = list(folder.rglob(".*.part"))
    for piece in pieces:
        piece.unlink(missing_ok=True)
    return len(pieces)
