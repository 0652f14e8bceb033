"""Making a lab, proving that it is whole, and keeping it elsewhere."""

from __future__ import annotations

from pathlib import Path

from stillroom.lab.executor import Progress, silent
from stillroom.records.settings import template
from stillroom.store import backup as backups
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.store.verify import verify as verify_lab
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import BAD_INPUT, DONE, Said


def new(dir: Path, *, name: str = "") -> Said:
    """Make a new lab folder with its settings.

    Parameters
    ----------
    dir : the folder to make.
    name : the laboratory's name; the folder's where none is given.
    """
    folder.make(dir, template(name or dir.name))
    with Lab(dir) as lab:
        path = lab.path
    return Said(
        f"A new lab in {path}.",
        lines=(f"Next: stillroom add YOUR-EXPORTS --lab {dir}",),
        data={"lab": str(path)},
    )


def verify(*, lab: Path | None = None, progress: Progress = silent) -> Said:
    """Prove that the lab is whole: the journal's chain, every original's bytes, the index, the cache.

    Parameters
    ----------
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        found = verify_lab(opened, progress=progress)
    return Said(
        found.sentence(),
        lines=found.lines(),
        data=found.as_dict(),
        code=DONE if found.whole else BAD_INPUT,
    )


def backup(file: Path, *, lab: Path | None = None, progress: Progress = silent) -> Said:
    """Write originals and journal as plain files into one ZIP file.

    Parameters
    ----------
    file : the file to write; it must not be there yet.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        made = backups.backup(opened, file, progress=progress)
    return Said(made.sentence(), data=made.as_dict())


def restore(file: Path, dir: Path, *, progress: Progress = silent) -> Said:
    """Make a lab again from a backup, after checking every entry and every byte.

    Parameters
    ----------
    file : the backup.
    dir : a new or empty folder.
    """
    made = backups.restore(file, dir, progress=progress)
    return Said(
        made.sentence(), lines=("Results are worked out anew: stillroom reduce",), data=made.as_dict()
    )
