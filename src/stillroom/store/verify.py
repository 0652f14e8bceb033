"""Proving that a lab is whole: the journal's chain, every original's bytes, the index, the cache."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import asdict, dataclass
from typing import Any

from stillroom.errors import LabDamaged, StillroomError
from stillroom.records.kinds import KINDS
from stillroom.records.publishing import Frozen
from stillroom.store import index, journal, originals, results
from stillroom.store.files import sha256_of, sweep_parts
from stillroom.store.lab import Lab, Progress, silent
from stillroom.store.releases import wrong_releases

SAMPLE = 500
"""Number of files of the cache that are read, spread over all of them."""


@dataclass(frozen=True)
class Verified:
    """What was found.

    Parameters
    ----------
    entries : entries of the journal that follow from one another. originals : originals hashed.
    journal : what is wrong with the journal or the database, or "".
    missing, changed : places of originals that are gone, or whose bytes differ.
    orphans : files among the originals that no entry speaks of, as an interrupted run leaves them; harmless.
    index_rebuilt : kinds of records whose index wasn't as the journal says; it was made anew.
    cache_read : files of the cache that were read. cache_broken : how many of them were broken and removed.
    parts_swept : pieces of interrupted writes that were removed.
    releases : frozen releases that the journal knows. wrong : what of them isn't as it was written.
    """

    entries: int
    originals: int
    journal: str
    missing: tuple[str, ...]
    changed: tuple[str, ...]
    orphans: tuple[str, ...]
    index_rebuilt: tuple[str, ...]
    cache_read: int
    cache_broken: int
    parts_swept: int
    releases: int = 0
    wrong: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether the truth (journal and originals) and what was published are as they were written."""
        return not (self.journal or self.missing or self.changed or self.wrong)

    def sentence(self) -> str:
        """The finding, in one line."""
        checked = f"{self.entries:,} entries and {self.originals:,} originals"
        if self.releases:
            checked = (
                f"{self.entries:,} entries, {self.originals:,} originals and {self.releases} frozen releases"
            )
        return f"The lab is whole: {checked}." if self.whole else f"The lab is damaged ({checked} checked)."

    def lines(self) -> tuple[str, ...]:
        """All that was found, a line each."""
        return (*self._wrong(), *self._mended())

    def _wrong(self) -> Iterator[str]:
        if self.journal:
            yield self.journal
        yield from (f"{place}: missing" for place in self.missing)
        yield from (f"{place}: bytes differ from those that were added" for place in self.changed)
        yield from self.wrong

    def _mended(self) -> Iterator[str]:
        for place in self.orphans:
            yield f"{place}: no entry speaks of it (an interrupted add; adding the file again uses it)"
        if self.index_rebuilt:
            yield f"index of {', '.join(self.index_rebuilt)} was made anew from the journal"
        if self.cache_broken:
            yield f"{self.cache_broken} of {self.cache_read:,} files of the cache were broken: reduce again"
        if self.parts_swept:
            yield f"{self.parts_swept} pieces of interrupted writes removed"

    def as_dict(self) -> dict[str, Any]:
        """The same for machines."""
        return {"whole": self.whole} | asdict(self)


def verify(lab: Lab, *, progress: Progress = silent) -> Verified:
    """Check a whole lab. What can be made anew (index, cache) is mended; the truth is never touched."""
    entries, wrong = _journal(lab)
    known = _known(lab)
    missing, changed = _originals(lab, known, progress)
    read, broken = _cache(lab)
    frozen = {} if wrong else lab.current(Frozen)
    return Verified(
        entries=entries,
        originals=len(known),
        journal=wrong,
        missing=missing,
        changed=changed,
        orphans=() if wrong else tuple(originals.orphans(lab.path, known.values())),
        index_rebuilt=() if wrong else _index(lab),
        cache_read=read,
        cache_broken=broken,
        parts_swept=sweep_parts(lab.path),
        releases=len(frozen),
        wrong=wrong_releases(lab.path, frozen),
    )


def _journal(lab: Lab) -> tuple[int, str]:
    """How many entries follow from one another, and what is wrong then, or ""."""
    count = 0
    try:
        for pages in lab.database.execute("PRAGMA quick_check(1)"):
            if pages[0] != "ok":
                return count, f"lab.sqlite: {pages[0]}"
        for _ in journal.follow(journal.entries(lab.database)):
            count += 1
    except LabDamaged as error:
        return count, error.sentence()
    except sqlite3.DatabaseError as error:
        return count, f"lab.sqlite: {error}"
    return count, ""


def _known(lab: Lab) -> dict[str, str]:
    """The originals of which the journal still tells; none where it can't be read."""
    try:
        return journal.originals_known(lab.database)
    except sqlite3.DatabaseError:
        return {}


def _originals(
    lab: Lab, known: dict[str, str], progress: Progress
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    missing, changed = [], []
    for done, (digest, place) in enumerate(known.items()):
        progress("originals", done, len(known))
        path = lab.path / place
        if not path.is_file():
            missing.append(place)
        elif not _same(lab, place, digest):
            changed.append(place)
    progress("originals", len(known), len(known))
    return tuple(missing), tuple(changed)


def _same(lab: Lab, place: str, digest: str) -> bool:
    try:
        return sha256_of(lab.path / place) == digest
    except OSError:  # a disk that can't read it any more
        return False


def _index(lab: Lab) -> tuple[str, ...]:
    """Kinds whose rows differ from those of an index made anew; the lab's own is then made anew."""
    with closing(sqlite3.connect(":memory:")) as anew:
        index.fill(anew, journal.entries(lab.database))
        try:
            wrong = [kind for kind in KINDS if index.rows_of(anew, kind) != index.rows_of(lab.database, kind)]
        except sqlite3.OperationalError:  # a table is gone
            wrong = list(KINDS)
    if wrong:
        index.rebuild(lab.database)
    return tuple(wrong)


def _cache(lab: Lab) -> tuple[int, int]:
    """Read files of the cache; how many, and how many were broken and removed."""
    files = sorted((lab.path / "cache").rglob("*.npz"))
    step = max(1, len(files) // SAMPLE)
    broken = 0
    for file in files[::step]:
        try:
            results.load_arrays(lab.path, file.stem)
        except StillroomError:
            file.unlink(missing_ok=True)
            broken += 1
    return len(files[::step]), broken
