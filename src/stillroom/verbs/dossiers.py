"""A dossier: all that the laboratory has of one fan, for whoever disputes a number."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from stillroom import wording
from stillroom.lab.disputes import disputed
from stillroom.lab.executor import Progress, silent
from stillroom.lab.pictures.picture_words import plain_name
from stillroom.publish.dossier import Dossier, material_of, write_dossier
from stillroom.store.lab import now
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import Said

FOLDER = "dossiers"
"""Where dossiers lie in a lab, unless another place is told."""


def dossier(
    fan: str, *, out: Path | None = None, lab: Path | None = None, progress: Progress = silent
) -> Said:
    """Write all that the lab has of one fan into a folder, for whoever disputes a number.

    Other fans stay unnamed in it. It holds a document (PDF and page), the fan's photos without their cameras' notes,
    and the raw rows of its runs: samples and lots, conditions of each run, instruments, curves, numbers with
    uncertainty and place, findings and decisions, disputes with the replies. Read it before it leaves the house: a
    note may speak of others in words that no program knows.

    Parameters
    ----------
    fan : its name.
    out : the folder to write; it must not be there yet. Without one: dossiers/ in the lab, by the fan and the day.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        date = now()[:10]
        material = material_of(opened, fan, date=date, progress=progress)
        made = write_dossier(material, out or _place(opened.path, material.fan, date), progress)
        mark = disputed(material.book, material.fan)
    return Said(
        f"A dossier of {wording.isolate(material.fan)} in {made.folder}.",
        lines=_lines(made, mark),
        data={
            "fan": material.fan,
            "folder": str(made.folder),
            "files": list(made.files),
            "photos": made.photos,
            "tables": made.tables,
            "recordings": made.recordings,
            "disputed": mark or None,
        },
    )


def _place(lab: Path, fan: str, date: str) -> Path:
    """A folder of the lab that isn't there yet, by the fan's name in plain letters and the day."""
    base = f"{plain_name('fan', fan)}-{date}"
    names = (base if number == 1 else f"{base}-{number}" for number in count(1))
    return next(path for name in names if not (path := lab / FOLDER / name).exists())


def _lines(made: Dossier, mark: str) -> tuple[str, ...]:
    counts = (
        f"{wording.plural(made.tables, 'table')} of raw rows, {wording.plural(made.photos, 'photo')};"
        f" {wording.plural(made.recordings, 'sound recording')} named, not enclosed"
    )
    lines = [wording.sentence(counts), f"To read: {made.folder / 'dossier.pdf'}"]
    lines += [f"The fan is {mark}."] if mark else []
    return (
        *lines,
        "Read it before it leaves the house: a note may speak of others in words that no program knows.",
    )
