"""A lab again from a backup: everything is checked in a folder beside, which then takes its name.

Nothing in the ZIP file is trusted: only members that a backup has are read, each original only as many bytes
as its journal's entry says, and no name leads out of the folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from stillroom.errors import BadInput, LabDamaged, NotPossible, UnreadableFile
from stillroom.records.publishing import Frozen
from stillroom.records.settings import read_settings
from stillroom.store import archive, folder, index, journal, originals, releases, results
from stillroom.store.files import settle
from stillroom.store.journal import Entry
from stillroom.store.lab import Progress, silent

LARGEST_TEXT = 4 << 20
"""Largest lab.toml, backup.json, or line of the journal that is read [bytes]."""

MOST_MEMBERS = 2_000_000
_BLOCK = 1 << 20
_ENCRYPTED = 0x1


@dataclass(frozen=True)
class Restored:
    """What was restored: the folder, entries of the journal, number of originals, the last entry's hash."""

    folder: str
    entries: int
    originals: int
    chain: str

    def sentence(self) -> str:
        """What was done, in one line."""
        return (
            f"{self.entries:,} entries and {self.originals:,} originals were checked;"
            f" the lab is in {self.folder}."
        )

    def as_dict(self) -> dict[str, Any]:
        """The same for machines."""
        return asdict(self)


def restore(file: Path, into: Path, *, progress: Progress = silent) -> Restored:
    """Make a lab again from a backup.

    Parameters
    ----------
    file : the ZIP file of a backup. into : a new or an empty folder.

    Raises
    ------
    BadInput : no such file, or the folder holds something, or a member that no backup has.
    UnreadableFile : not a ZIP file, or cut off, or damaged.
    LabDamaged : an entry of the journal or an original isn't as it was written; nothing is made then.
    NotPossible : too little room on the disk.
    """
    if not file.is_file():
        raise BadInput("backup", place=str(file), found="no such file", expected="a backup of a lab")
    into = into.absolute()
    _refuse(into)
    into.parent.mkdir(parents=True, exist_ok=True)
    folder.refuse_network_drive(into.parent)
    beside = Path(tempfile.mkdtemp(prefix=f".{into.name[:60]}.", suffix=".part", dir=into.parent))
    try:
        with _opened(file) as backup:
            made = _restore(backup, beside, into, progress)
        beside.chmod(0o755)
        if into.is_dir():
            into.rmdir()
        beside.rename(into)
        settle(into.parent)
    finally:
        _remove(beside)
    return made


def _refuse(into: Path) -> None:
    if into.exists() and not into.is_dir():
        raise BadInput("lab", place=str(into), found="a file", expected="a new or an empty folder")
    if into.is_dir() and any(into.iterdir()):
        raise BadInput(
            "lab", place=str(into), found="a folder with files in it", expected="a new or an empty folder"
        )


def _remove(beside: Path) -> None:
    if os.name == "nt" and beside.exists():
        for path in beside.rglob("*"):
            path.chmod(0o777)
    shutil.rmtree(beside, ignore_errors=True)


@contextmanager
def _opened(file: Path) -> Iterator[zipfile.ZipFile]:
    """The ZIP file; what its bytes hold against that is said in words."""
    try:
        with zipfile.ZipFile(file) as backup:
            yield backup
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise UnreadableFile(
            "backup",
            place=file.name,
            found=str(error) or "a file that is cut off",
            expected="a whole ZIP file",
        ) from error
    except OSError as error:
        raise NotPossible(
            "restore", place=str(file), found=str(error), expected="a disk with room"
        ) from error


def _restore(backup: zipfile.ZipFile, lab: Path, into: Path, progress: Progress) -> Restored:
    members = _members(backup)
    about = _about(backup, members)
    settings = _text(backup, members, folder.SETTINGS)
    if hashlib.sha256(settings).hexdigest() != about["settings"]:
        raise _damaged(folder.SETTINGS, "settings that differ from those that were kept")
    for name in (originals.FOLDER, "cache", "releases"):
        (lab / name).mkdir()
    (lab / folder.SETTINGS).write_bytes(settings)
    read_settings(lab / folder.SETTINGS)
    try:
        with closing(folder.connect(lab)) as database:
            entries, chain = _journal(backup, members[archive.JOURNAL], database)
            known = journal.entries_of(database, journal.ORIGINAL)
            if (entries, chain) != (about["entries"], about["chain"]):
                raise archive.bad_line(
                    entries + 1, f"the end, after {entries:,} of {about['entries']:,} entries"
                )
            _originals(backup, members, known, lab, progress)
            _releases(backup, members, journal.entries_of(database, Frozen.kind), lab)
            index.prepare(database)
            results.prepare(database)
    except sqlite3.Error as error:
        raise folder.in_words(error, lab) from error
    return Restored(str(into), entries, len(known), chain)


def _members(backup: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
    """The members by name.

    Raises
    ------
    BadInput : a name that leads out of the folder or comes twice, or something that is no plain file.
    """
    infos = backup.infolist()
    if len(infos) > MOST_MEMBERS:
        raise BadInput("backup", found=f"{len(infos):,} files", expected=f"at most {MOST_MEMBERS:,}")
    members: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.orig_filename
        if why := _objection(info, name):
            raise BadInput(
                "backup", place=repr(name), found=why, expected="plain files inside its own folder"
            )
        if name in members:
            raise BadInput("backup", place=name, found="a name that comes twice", expected="each file once")
        members[name] = info
    for name in (archive.ABOUT, archive.JOURNAL, folder.SETTINGS):
        if name not in members:
            raise BadInput(
                "backup", place=name, found="nothing", expected=f"a file {name}, as every backup has"
            )
    return members


def _objection(info: zipfile.ZipInfo, name: str) -> str:
    """What speaks against a member, or ""."""
    path = PurePosixPath(name)
    kind = stat.S_IFMT(info.external_attr >> 16)
    outward = path.is_absolute() or ".." in path.parts or path.as_posix() != name
    if outward or any(each in name for each in "\\:\0"):
        return "a path that is not one inside the folder"
    if info.is_dir() or kind not in {0, stat.S_IFREG}:
        return "a folder, a link or a device"
    if info.flag_bits & _ENCRYPTED:
        return "an encrypted file"
    known = {archive.ABOUT, archive.JOURNAL, archive.README, folder.SETTINGS}
    table = path.parent.as_posix() + "/" == archive.RECORDS and path.suffix == ".csv"
    if name not in known and not table and path.parts[0] not in (originals.FOLDER, releases.FOLDER):
        return "a file that no backup has"
    return ""


def _text(backup: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], name: str) -> bytes:
    with backup.open(members[name]) as file:
        text = file.read(LARGEST_TEXT + 1)
    if len(text) > LARGEST_TEXT:
        raise BadInput("backup", place=name, found="a huge file", expected=f"at most {LARGEST_TEXT:,} bytes")
    return text


def _about(backup: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo]) -> dict[str, Any]:
    try:
        about = json.loads(_text(backup, members, archive.ABOUT))
        found = {name: about[name] for name in ("format", "entries", "chain", "settings")}
    except (ValueError, KeyError, TypeError, RecursionError):
        raise _damaged(archive.ABOUT, "no description of a backup") from None
    if found["format"] != archive.FORMAT:
        raise BadInput(
            "backup",
            place=archive.ABOUT,
            found=f"format {found['format']!r}",
            expected=f"format {archive.FORMAT}; a newer Stillroom may read it",
        )
    return found


def _damaged(place: str, found: str) -> LabDamaged:
    return LabDamaged("backup", place=place, found=found, expected="the file as it was written")


def _journal(
    backup: zipfile.ZipFile, member: zipfile.ZipInfo, database: sqlite3.Connection
) -> tuple[int, str]:
    """Check the journal line by line and put it into the database; how many entries, and the last hash."""
    journal.prepare(database)
    count, chain = 0, ""

    def checked() -> Iterator[Entry]:
        nonlocal count, chain
        with backup.open(member) as file:
            lines = iter(lambda: file.readline(LARGEST_TEXT + 1), b"")
            for number, line in enumerate(lines, start=1):
                if len(line) > LARGEST_TEXT:
                    raise archive.bad_line(number, "a line without an end")
                entry = archive.entry_of(line, number)
                if not journal.follows(entry, count, chain):
                    raise archive.bad_line(number, "an entry that does not follow from the one before it")
                count, chain = entry.sequence, entry.chain
                yield entry

    with database:
        database.execute("BEGIN IMMEDIATE")
        journal.put(database, checked())
    return count, chain


def _originals(
    backup: zipfile.ZipFile,
    members: dict[str, zipfile.ZipInfo],
    known: list[Entry],
    lab: Path,
    progress: Progress,
) -> None:
    """Write every original that the journal knows, and check its bytes."""
    sizes = {entry.original: entry.body.get("bytes") for entry in known}
    extra = [name for name in members if name.startswith(f"{originals.FOLDER}/") and name not in sizes]
    if extra:
        raise BadInput(
            "backup", place=extra[0], found="a file that its journal doesn't know", expected="known originals"
        )
    room = shutil.disk_usage(lab).free
    needed = sum(each for each in sizes.values() if isinstance(each, int))
    if needed > room:
        raise NotPossible(
            "restore", found=f"{room:,} bytes free", expected=f"{needed:,} bytes for the originals"
        )
    for done, entry in enumerate(known):
        progress("originals", done, len(known))
        if entry.original not in members:
            raise LabDamaged("backup", place=entry.original, found="nothing", expected="an original")
        _original(backup, members[entry.original], entry, lab)
    progress("originals", len(known), len(known))


def _original(backup: zipfile.ZipFile, member: zipfile.ZipInfo, entry: Entry, lab: Path) -> None:
    """Write one original, no more bytes than its entry says, and check them."""
    size = entry.body.get("bytes")
    if member.file_size != size:
        raise _damaged(entry.original, f"{member.file_size:,} bytes where the journal says {size}")
    path = lab / entry.original
    path.parent.mkdir(parents=True, exist_ok=True)
    found, left = hashlib.sha256(), member.file_size
    with backup.open(member) as source, path.open("xb") as target:
        while block := source.read(min(_BLOCK, left + 1)):
            left -= len(block)
            if left < 0:
                break
            found.update(block)
            target.write(block)
        target.flush()
        os.fsync(target.fileno())
    if left != 0 or found.hexdigest() != entry.name:
        raise _damaged(entry.original, "bytes that differ from those that were added")
    path.chmod(0o444)


def _releases(
    backup: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], frozen: list[Entry], lab: Path
) -> None:
    """Write every release that the journal knows and the backup holds, and check it by its manifest.

    Raises
    ------
    BadInput : a file that belongs to no release. LabDamaged : a release that isn't as it was frozen.
    """
    known = {entry.name: str(entry.body["manifest"]) for entry in frozen}
    for name, member in members.items():
        path = PurePosixPath(name)
        if path.parts[0] != releases.FOLDER:
            continue
        if len(path.parts) < 3 or path.parts[1] not in known:
            raise BadInput(
                "backup", place=name, found="a release that its journal doesn't know", expected="none"
            )
        place = lab / name
        place.parent.mkdir(parents=True, exist_ok=True)
        with backup.open(member) as source, place.open("xb") as target:
            shutil.copyfileobj(source, target, _BLOCK)
    for release, digest in known.items():
        place = lab / releases.FOLDER / release
        wrong = next(releases.wrong_in(place, digest), "") if place.is_dir() else ""
        if wrong:
            raise LabDamaged("backup", place=release, found=wrong, expected="the release as it was frozen")
