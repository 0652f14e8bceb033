"""Which files are watched for which rig: as told at the command line, else as the rigs' records have it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.eras.rigs_by_date import rig_on
from stillroom.lab.purposes import Purpose, rigs_for


@dataclass(frozen=True)
class RigFiles:
    """The growing files of one heat rig.

    Parameters
    ----------
    rig : its name in the lab.
    folder : where its loggers write. pattern : which files there ("*.csv").
    """

    rig: str
    folder: Path
    pattern: str = "*"


def rig_files(book: Book, lab: Path, folders: Sequence[Path], rig: str) -> tuple[RigFiles, ...]:
    """The files to watch.

    Parameters
    ----------
    lab : the lab's folder, from which a rig's record tells its files.
    folders : told; empty where the records are to tell them. rig : the only one that is meant, or "".

    Raises
    ------
    UnknownThing : no heat rig of that name. BadInput : nothing tells which files are whose.
    """
    names = sorted(rigs_for(Purpose.HEAT, book.rigs.values()))
    if rig and rig not in names:
        raise UnknownThing(
            f"rig {rig!r}", found="no heat rig of that name", expected=", ".join(names) or "one"
        )
    names = [rig] if rig else names
    if not names:
        raise BadInput(
            "watch", found="no heat rig in the lab", expected='a rig with kind = "heat" in a rigs file'
        )
    if folders:
        return tuple(found for each in folders for found in _told(each, names))
    today = date.today().isoformat()
    found = [
        (name, record.watch) for name in names if (record := rig_on(book.rigs, name, today)) and record.watch
    ]
    if not found:
        raise BadInput(
            "watch",
            found=f"no folder told, and none in the records of {', '.join(names)}",
            expected='stillroom watch FOLDER, or watch = "D:/logs/heat-1/*.csv" in the rig\'s table',
        )
    return tuple(_recorded(name, lab, pattern) for name, pattern in found)


def _told(folder: Path, names: Sequence[str]) -> list[RigFiles]:
    """The rigs of a folder: the one that has its name, those that have its folders' names, or the only one."""
    if not folder.is_dir():
        raise BadInput(
            "watch", place=str(folder), found="no folder", expected="the folder of a rig's loggers"
        )
    if folder.resolve().name in names:
        return [RigFiles(folder.resolve().name, folder)]
    inside = [RigFiles(name, folder / name) for name in names if (folder / name).is_dir()]
    if inside:
        return inside
    if len(names) == 1:
        return [RigFiles(names[0], folder)]
    raise BadInput(
        "watch",
        place=str(folder),
        found="a folder that names no rig",
        expected=f"--rig with {', '.join(names)}",
    )


def _recorded(rig: str, lab: Path, pattern: str) -> RigFiles:
    """A record's pattern, from the lab's folder: a folder, or files in one."""
    path = lab / pattern
    if any(sign in path.name for sign in "*?["):
        return RigFiles(rig, path.parent, path.name)
    return RigFiles(rig, path) if path.is_dir() or not path.suffix else RigFiles(rig, path.parent, path.name)
