"""A lab as one file of plain files, and a lab again from it.

A backup is a ZIP file that anyone can read by hand (`archive` says what lies in it). It is written whole or
not at all. A restore checks the journal's chain and every original before the folder appears.
"""

from __future__ import annotations

import hashlib
import json
import os
import uuid
import zipfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from stillroom.errors import BadInput, LabDamaged
from stillroom.records.kinds import KINDS
from stillroom.records.publishing import Frozen
from stillroom.store import archive, folder, journal, originals, releases
from stillroom.store.files import settle
from stillroom.store.lab import Lab, Progress, now, silent
from stillroom.store.restoring import Restored, restore

__all__ = ["Backup", "Restored", "backup", "restore"]

_BLOCK = 1 << 20


@dataclass(frozen=True)
class Backup:
    """What a backup holds.

    Parameters
    ----------
    file : the ZIP file. entries : of the journal. originals : number of files. size : of the file [bytes].
    chain : the last entry's hash, by which this state of the lab is known.
    """

    file: str
    entries: int
    originals: int
    size: int
    chain: str

    def sentence(self) -> str:
        """What was done, in one line."""
        return (
            f"{self.entries:,} entries and {self.originals:,} originals are in {self.file}"
            f" ({_size_words(self.size)})."
        )

    def as_dict(self) -> dict[str, Any]:
        """The same for machines."""
        return asdict(self)


def _size_words(size: int) -> str:
    """A file's size [bytes] in the unit that shows it."""
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(size / 1e3, 1.0):.0f} kB"


def backup(lab: Lab, file: Path, *, progress: Progress = silent) -> Backup:
    """Write the whole truth of a lab into one ZIP file of plain files.

    Parameters
    ----------
    file : the file to write; it must not be there yet.

    Raises
    ------
    BadInput : the file is there already, or can't be written where it should lie.
    LabDamaged : the journal or an original isn't as it was; no file is written then.
    """
    _refuse(lab, file)
    beside = file.with_name(f".{uuid.uuid4().hex}.part")
    try:
        with zipfile.ZipFile(beside, "x", zipfile.ZIP_DEFLATED, strict_timestamps=False) as made:
            about = _fill(lab, made, progress)
        with beside.open("rb+") as written:
            os.fsync(written.fileno())
        if file.exists():
            raise _there(file)
        beside.replace(file)
        settle(file.parent)
    except OSError as error:
        raise BadInput("backup", place=str(file), found=str(error), expected="a disk with room") from error
    finally:
        beside.unlink(missing_ok=True)
    return Backup(str(file), about["entries"], about["originals"], file.stat().st_size, about["chain"])


def _refuse(lab: Lab, file: Path) -> None:
    if file.exists() or file.is_symlink():
        raise _there(file)
    if not file.parent.is_dir():
        raise BadInput("backup", place=str(file.parent), found="no such folder", expected="a folder")
    inside = file.resolve().parents
    if lab.path / originals.FOLDER in inside or lab.path / "cache" in inside:
        raise BadInput(
            "backup",
            place=str(file),
            found="a folder that the lab keeps for its own",
            expected="another place, best on another disk",
        )


def _there(file: Path) -> BadInput:
    return BadInput("backup", place=str(file), found="a file that is already there", expected="a new name")


def _fill(lab: Lab, made: zipfile.ZipFile, progress: Progress) -> dict[str, Any]:
    """Put everything in, as it stands at one moment."""
    lab.database.execute("BEGIN")
    try:
        entries, chain = _journal(lab, made)
        known = journal.originals_known(lab.database)
        records = {kind: lab.current(record) for kind, record in KINDS.items()}
    finally:
        lab.database.execute("ROLLBACK")
    for done, (digest, place) in enumerate(known.items()):
        progress("originals", done, len(known))
        _original(lab, made, place, digest)
    progress("originals", len(known), len(known))
    _releases(lab, made, records[Frozen.kind])
    settings = (lab.path / folder.SETTINGS).read_bytes()
    made.writestr(folder.SETTINGS, settings)
    about = {
        "format": archive.FORMAT,
        "name": lab.settings.name,
        "made": now(),
        "entries": entries,
        "originals": len(known),
        "chain": chain,
        "settings": hashlib.sha256(settings).hexdigest(),
    }
    _for_readers(made, about, records)
    return about


def _journal(lab: Lab, made: zipfile.ZipFile) -> tuple[int, str]:
    count, chain = 0, ""
    with made.open(archive.JOURNAL, "w", force_zip64=True) as lines:
        for entry in journal.follow(journal.entries(lab.database)):
            lines.write(archive.line_of(entry).encode())
            count, chain = entry.sequence, entry.chain
    return count, chain


def _original(lab: Lab, made: zipfile.ZipFile, place: str, digest: str) -> None:
    """Copy one original, and hash what was copied."""
    path = lab.path / place
    if not path.is_file():
        raise LabDamaged("original", place=place, found="no such file", expected="the file as it was added")
    found = hashlib.sha256()
    member = zipfile.ZipInfo.from_file(path, place, strict_timestamps=False)
    member.compress_type = zipfile.ZIP_DEFLATED
    with path.open("rb") as source, made.open(member, "w", force_zip64=True) as target:
        while block := source.read(_BLOCK):
            found.update(block)
            target.write(block)
    if found.hexdigest() != digest:
        raise LabDamaged(
            "original",
            place=place,
            found="bytes that differ from those that were added",
            expected=f"SHA-256 {digest[:12]}…; `stillroom verify` lists all that is wrong",
        )


def _for_readers(
    made: zipfile.ZipFile, about: Mapping[str, Any], records: Mapping[str, Mapping[str, Any]]
) -> None:
    made.writestr(archive.ABOUT, json.dumps(about, ensure_ascii=False, indent=1) + "\n")
    there = {kind: each for kind, each in records.items() if each}
    for kind, each in there.items():
        made.writestr(f"{archive.RECORDS}{kind}.csv", archive.table_of(KINDS[kind], each))
    made.writestr(archive.README, archive.readme(about, {kind: len(each) for kind, each in there.items()}))


def _releases(lab: Lab, made: zipfile.ZipFile, frozen: Mapping[str, Frozen]) -> None:
    """Put in what was published, byte for byte; a release whose folder was taken away is left out.

    Raises
    ------
    LabDamaged : a file of a release isn't as it was written.
    """
    for name, record in frozen.items():
        place = lab.path / releases.FOLDER / name
        if not place.is_dir():
            continue
        if wrong := next(releases.wrong_in(place, record.manifest), ""):
            raise LabDamaged("release", place=name, found=wrong, expected="the release as it was frozen")
        for path in releases.files_of(place):
            made.write(place / path, f"{releases.FOLDER}/{name}/{path}")
