"""Originals: the exported bytes, kept for ever under date and name, never changed."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path, PurePosixPath

from stillroom.errors import LabDamaged, UnreadableFile
from stillroom.store.files import settle, sha256_of, write_new

FOLDER = "originals"
LONGEST = 180
"""Longest name under which an original is kept [bytes]."""

_UNSAFE = re.compile(
    r'[<>:"|?*\\/\x00-\x1f\x7f-\x9f\xad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb\ud800-\udfff]'
)
_DEVICE = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|com[\d¹²³]|lpt[\d¹²³])\s*(\..*)?", re.IGNORECASE)


def digest_of(data: bytes) -> str:
    """The SHA-256 under which the journal knows bytes."""
    return hashlib.sha256(data).hexdigest()


def keep(
    lab: Path, data: bytes | Callable[[], Iterable[bytes]], name: str, date: str, digest: str = ""
) -> str:
    """Keep bytes under their date and exported name; the place, relative to the lab.

    A file of the same name but other bytes stays; the new one gets a number. Names that differ only in case
    are the same, as on some systems they are. Bytes that an interrupted run has already put there are used
    as they are. Two programs may keep files at the same time.

    Parameters
    ----------
    data : the bytes, or what gives them in blocks, from the start at each call, where they are many.
    digest : the SHA-256 that they must have; worked out where it isn't told.

    Raises
    ------
    UnreadableFile : the bytes are no longer those of the digest.
    """
    blocks = (lambda: [data]) if isinstance(data, bytes) else data
    digest = digest or _digest(blocks())
    wanted = PurePosixPath(plain_name(name))
    there = _names_in(lab / FOLDER / date)
    for number in range(1, 100_000):
        file = wanted.name if number == 1 else f"{wanted.stem}~{number}{wanted.suffix}"
        place = f"{FOLDER}/{date}/{file}"
        path = lab / place
        if file.casefold() not in there:
            try:
                write_new(path, _checked(blocks(), name, digest))
            except FileExistsError:  # another program was quicker
                pass
            else:
                return place
        if path.is_file() and sha256_of(path) == digest:
            return place
    raise LabDamaged(f"{FOLDER}/{date}", found=f"100,000 files named {name!r}", expected="another name")


def _digest(blocks: Iterable[bytes]) -> str:
    found = hashlib.sha256()
    for block in blocks:
        found.update(block)
    return found.hexdigest()


def _checked(blocks: Iterable[bytes], name: str, digest: str) -> Iterator[bytes]:
    """The same blocks; after the last one, that they are those of the digest."""
    found = hashlib.sha256()
    for block in blocks:
        found.update(block)
        yield block
    if found.hexdigest() != digest:
        raise UnreadableFile(
            "file", place=name, found="other bytes than a moment ago", expected="a file that nobody writes to"
        )


def _names_in(folder: Path) -> set[str]:
    """The names in a folder without their case; none where it isn't there yet."""
    try:
        return {each.name.casefold() for each in folder.iterdir()}
    except FileNotFoundError:
        return set()


def settle_names(lab: Path, places: Iterable[str]) -> None:
    """Force the names of these originals to disk, so that they outlive a power cut."""
    folders = {lab / FOLDER} | {(lab / place).parent for place in places}
    for each in sorted(folders):
        settle(each)


def plain_name(name: str) -> str:
    """A name that every system can keep: the same, but for signs and lengths that some refuse."""
    plain = _UNSAFE.sub("_", name).strip(" .") or "unnamed"
    if _DEVICE.fullmatch(plain):
        plain = f"_{plain}"
    path = PurePosixPath(plain)
    suffix = path.suffix if len(path.suffix.encode()) <= 20 else ""
    stem = path.stem if suffix else plain
    room = LONGEST - len(suffix.encode())
    return stem.encode("utf-8", "replace")[:room].decode("utf-8", "ignore") + suffix


def files(lab: Path) -> Iterator[str]:
    """The places of all files among the originals, in order, without pieces of interrupted writes."""
    for path in sorted((lab / FOLDER).rglob("*")):
        if path.is_file() and not (path.name.startswith(".") and path.suffix == ".part"):
            yield path.relative_to(lab).as_posix()


def orphans(lab: Path, known: Iterable[str]) -> list[str]:
    """Places of files that no entry of the journal speaks of: what an interrupted run had already kept."""
    there = set(known)
    return [place for place in files(lab) if place not in there]


def data_of(lab: Path, place: str, digest: str) -> bytes:
    """The bytes of an original.

    Raises
    ------
    LabDamaged : the file is missing or its bytes are not those that were taken in.
    """
    data = _there(lab, place).read_bytes()
    if digest_of(data) != digest:
        raise _differs(place, digest)
    return data


def path_of(lab: Path, place: str, digest: str) -> Path:
    """The path of an original, which may be too large for the memory, after a look at all its bytes in blocks.

    Raises
    ------
    LabDamaged : the file is missing or its bytes are not those that were taken in.
    """
    path = _there(lab, place)
    try:
        found = sha256_of(path)
    except OSError as problem:
        raise LabDamaged(
            "original",
            place=place,
            found=problem.strerror or str(problem),
            expected="a disk that can read it",
        ) from None
    if found != digest:
        raise _differs(place, digest)
    return path


def _there(lab: Path, place: str) -> Path:
    path = lab / place
    if not path.is_file():
        raise LabDamaged("original", place=place, found="no such file", expected="the file as it was added")
    return path


def _differs(place: str, digest: str) -> LabDamaged:
    return LabDamaged(
        "original",
        place=place,
        found="bytes that differ from those that were added",
        expected=f"SHA-256 {digest[:12]}…; restore a backup",
    )
