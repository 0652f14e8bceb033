"""Drawings kept by what they were drawn from: what has the same series and the same drawing code isn't drawn again.

A bundle holds the files of one page of one chart. It lies in the lab's cache, which may be deleted at any time; one
that isn't as it was written counts as not there.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import Any

from stillroom import charts, wording

FOLDER = "charts"
ENDING = ".bundle"
DRAWN_BY = ("altair", "vl-convert-python", "fonttools")
"""Packages whose version is part of what draws."""


def key_of(page: str, *drawn_from: object) -> str:
    """The name of a bundle: a digest of the page, of all that it is drawn from, and of the code that draws.

    Raises
    ------
    TypeError : something that has no plain form.
    """
    whole = json.dumps([code_version(), page, [plain(each) for each in drawn_from]], ensure_ascii=True)
    return sha256(whole.encode()).hexdigest()


def plain(value: Any) -> Any:
    """A series as lists and words; floats by their hexadecimal form, so that no digit is lost.

    Raises
    ------
    TypeError : something that has no such form.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return [type(value).__name__, *(plain(getattr(value, each.name)) for each in fields(value))]
    if isinstance(value, Enum):
        return [type(value).__name__, value.name]
    if isinstance(value, float):
        return ["float", value.hex()]
    if isinstance(value, bytes):
        return ["bytes", sha256(value).hexdigest()]
    if isinstance(value, tuple | list):
        return ["list", *map(plain, value)]
    if isinstance(value, Mapping):
        return ["map", *([plain(name), plain(each)] for name, each in value.items())]
    if value is None or isinstance(value, str | int):
        return value
    raise TypeError(f"no plain form of {type(value).__name__}")


@cache
def code_version() -> str:
    """A digest of the code and the letters that draw, and of the versions of the packages that they use."""
    digest = sha256()
    room = Path(charts.__file__).parent
    for path in sorted(each for each in room.rglob("*") if each.suffix in (".py", ".ttf")):
        digest.update(path.relative_to(room).as_posix().encode() + b"\0" + path.read_bytes())
    digest.update(Path(wording.__file__).read_bytes())
    for each in DRAWN_BY:
        digest.update(f"{each} {version(each)}".encode())
    return digest.hexdigest()


def path_of(lab: Path, key: str) -> Path:
    """Where a bundle lies."""
    return lab / "cache" / FOLDER / key[:2] / f"{key}{ENDING}"


def keep(path: Path, files: Mapping[str, bytes]) -> None:
    """Write a bundle whole: beside its place, then renamed. Nobody has to wait for the disk: a torn one is known by its
    digest.
    """
    head = json.dumps([[name, len(body)] for name, body in files.items()]).encode()
    body = len(head).to_bytes(4, "big") + head + b"".join(files.values())
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{uuid.uuid4().hex}.part")
    try:
        beside.write_bytes(sha256(body).digest() + body)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def kept(path: Path) -> dict[str, bytes] | None:
    """The files of a bundle by name; None where it isn't there, or isn't as it was written."""
    try:
        whole = path.read_bytes()
    except OSError:
        return None
    body = whole[32:]
    if sha256(body).digest() != whole[:32]:
        return None
    return dict(_files(body))


def _files(body: bytes) -> Iterator[tuple[str, bytes]]:
    start = 4 + int.from_bytes(body[:4], "big")
    for name, length in json.loads(body[4:start]):
        yield name, body[start : start + length]
        start += length
