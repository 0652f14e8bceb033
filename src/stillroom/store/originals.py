"""Originals: the exported bytes, kept for ever under date and name, never changed."""

from __future__ import annotations

import hashlib
from pathlib import Path, PurePosixPath

from stillroom.errors import LabDamaged
from stillroom.store.files import sha256_of, write_bytes

FOLDER = "originals"


def keep(lab: Path, data: bytes, name: str, date: str) -> str:
    """Keep bytes under their date and exported name; the place, relative to the lab.

    A file of the same name but other bytes stays; the new one gets a number. Bytes that an interrupted
    run has already put there are used as they are.
    """
    digest = hashlib.sha256(data).hexdigest()
    wanted = PurePosixPath(name)
    for number in range(1, 100_000):
        stem = wanted.stem if number == 1 else f"{wanted.stem}~{number}"
        place = f"{FOLDER}/{date}/{stem}{wanted.suffix}"
        path = lab / place
        if not path.exists():
            write_bytes(path, data)
            path.chmod(0o444)
            return place
        if sha256_of(path) == digest:
            return place
    raise LabDamaged(f"{FOLDER}/{date}", found=f"100,000 files named {name!r}", expected="another name")


def data_of(lab: Path, place: str, digest: str) -> bytes:
    """The bytes of an original.

    Raises
    ------
    LabDamaged : the file is missing or its bytes are not those that were taken in.
    """
    path = lab / place
    if not path.is_file():
        raise LabDamaged("original", place=place, found="no such file", expected="the file as it was added")
    data = path.read_bytes()
    if hashlib.sha256(data).hexdigest() != digest:
        raise LabDamaged(
            "original",
            place=place,
            found="bytes that differ from those that were added",
            expected=f"SHA-256 {digest[:12]}…; restore a backup",
        )
    return data
