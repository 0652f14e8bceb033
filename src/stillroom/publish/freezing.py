"""Freezing a release: every part made into one folder beside its place, hashed, and renamed: whole or not at all."""

from __future__ import annotations

import json
import shutil
import time
import uuid
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import BadInput, StillroomError
from stillroom.lab.executor import Progress, shared_workers, silent
from stillroom.publish.contents import Contents
from stillroom.publish.index_page import write_index
from stillroom.publish.methods_used import methods_used
from stillroom.publish.parts import PARTS, Part
from stillroom.publish.release import ABOUT, EVIDENCE, SCHEMA, Release, checked_name, read_release
from stillroom.publish.unwritten import unwritten
from stillroom.records.fields import as_json
from stillroom.records.program import VERSION
from stillroom.records.publishing import Frozen
from stillroom.store import journal
from stillroom.store.files import OLD_PART, settle, sha256_of
from stillroom.store.journal import Note
from stillroom.store.releases import FOLDER, MANIFEST

PART = ".part"
"""How the name of a folder ends in which a release is being made."""


def freeze(contents: Contents, progress: Progress = silent, *, parts: tuple[Part, ...] = PARTS) -> Release:
    """Write a release into the lab's folder; nothing of it is there before all of it is.

    Parameters
    ----------
    parts : what is made; all where none are named.

    Raises
    ------
    BadInput : the name can't be one, or there is a release of that name. Whatever a part raises.
    """
    home = contents.lab.path / FOLDER
    folder = home / checked_name(contents.name)
    _refuse_taken(contents, home)
    beside = home / f".{uuid.uuid4().hex}{PART}"
    try:
        home.mkdir(exist_ok=True)
        _sweep(home)
        beside.mkdir()
        with shared_workers():
            made = _write(contents, beside, parts, progress)
        _seal(beside, made)
        _refuse_taken(contents, home)  # by another program, meanwhile
        beside.rename(folder)
        settle(home)
    except OSError as error:
        raise unwritten("release", error, folder) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    try:
        _keep(contents, folder)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return read_release(contents.lab.path, contents.name)


def _refuse_taken(contents: Contents, home: Path) -> None:
    """Refuse a name that is taken, in capitals or not: some systems take both for one.

    Raises
    ------
    BadInput : there is something of that name.
    """
    here = [each.name for each in home.iterdir()] if home.is_dir() else []
    taken = next((each for each in here if each.casefold() == contents.name.casefold()), "")
    if not taken:
        return
    found, expected = f"one of the name {taken!r}", "another name: a release is frozen"
    if taken not in contents.lab.current(Frozen):
        found = f"{taken!r}, of which the journal knows nothing"
        expected = "another name; or take that away: it was put there by hand, or its making was interrupted"
    raise BadInput("release", place=str(home / taken), found=found, expected=expected)


def _keep(contents: Contents, folder: Path) -> None:
    """Write into the journal that the release is there, and the hash of its manifest."""
    record = Frozen(
        release=contents.name,
        date=contents.date,
        manifest=sha256_of(folder / MANIFEST),
        corrects=contents.corrects or None,
    )
    contents.lab.write([Note(Frozen.kind, record.name, as_json(record))])


def _sweep(home: Path) -> None:
    """Remove what interrupted makings left; a folder in which something was written lately is another program's."""
    for each in home.glob(f".*{PART}"):
        if time.time() - _written(each) > OLD_PART:
            shutil.rmtree(each, ignore_errors=True)


def _written(folder: Path) -> float:
    """When something was last written into a folder, or into one below it [s since 1970]."""
    times = [time.time()]  # of one that is taken away just now
    with suppress(OSError):
        times = [each.stat().st_mtime for each in (folder, *folder.rglob("*"))]
    return max(times)


def _write(contents: Contents, folder: Path, parts: tuple[Part, ...], progress: Progress) -> dict[Path, str]:
    """Make all parts: {file: what it is}."""
    made: dict[Path, str] = {}
    about, evidence = folder / ABOUT, folder / EVIDENCE
    about.write_text(_json(about_of(contents)), encoding="utf-8", newline="\n")
    np.savez(
        evidence,
        allow_pickle=False,
        **{each.slug: _trials(each.ranking.trials) for each in contents.published},
    )
    made |= {about: "what the release is", evidence: "trials, for corrections"}
    for part in parts:
        place = folder / part.folder
        place.mkdir(exist_ok=True)
        try:
            made |= dict.fromkeys(part.make(contents, place, progress), part.what)
        except OSError as error:
            raise unwritten(f"release, {part.what}", error, place) from error
    return made | dict.fromkeys(write_index(contents, folder), "the way in")


def _trials(trials: Mapping[str, Array]) -> NDArray[np.float32]:
    """The trials of all fans of a ranking, (F, M)."""
    return np.array(list(trials.values()), dtype=np.float32)


def _seal(folder: Path, made: dict[Path, str]) -> None:
    """Write the manifest over every file.

    Raises
    ------
    StillroomError : a part wrote a file that it doesn't speak of, or speaks of one that isn't there.
    """
    here = {each for each in folder.rglob("*") if each.is_file()}
    odd = sorted(str(each.relative_to(folder)) for each in here ^ set(made))
    if odd:
        raise StillroomError(
            "release", found=f"files that its parts don't account for: {odd[:5]}", expected="none"
        )
    files = [
        {"path": each.relative_to(folder).as_posix(), "bytes": each.stat().st_size, "sha256": sha256_of(each),
         "what": made[each]}
        for each in sorted(here, key=lambda each: each.relative_to(folder).as_posix())
    ]  # fmt: skip
    told = {"schema": "stillroom/manifest/1", "files": files}
    (folder / MANIFEST).write_text(_json(told), encoding="utf-8", newline="\n")


def about_of(contents: Contents) -> dict[str, Any]:
    """What a release says of itself: release.json."""
    last = journal.last(contents.lab.database)
    return {
        "schema": SCHEMA,
        "name": contents.name,
        "date": contents.date,
        "lab": contents.settings.name,
        "program": VERSION,
        "highlight": contents.highlight,
        "question": contents.question,
        "corrects": contents.corrects,
        "journal": {"sequence": last.sequence if last else 0, "chain": last.chain if last else ""},
        "settings": asdict(contents.settings),
        "methods": methods_used(contents.whole.graph),
        "measures": [
            {
                "slug": each.slug,
                "words": each.words,
                "title": each.title,
                "measure": each.measure.name,
                "version": each.ranking.version,
                "registered": each.registered.words if each.registered else None,
                "trials": list(each.ranking.trials),
            }
            for each in contents.published
        ],
        "accepted": [asdict(each) for each in contents.accepted],
        "excluded": [asdict(each) for each in contents.excluded],
    }


def _json(data: object) -> str:
    return json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n"
