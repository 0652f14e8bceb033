"""A release as it lies in the lab's folder: frozen, with a hash of every file."""

from __future__ import annotations

import hashlib
import io
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np

from stillroom.core.arrays import Array
from stillroom.errors import BadInput, LabDamaged, UnknownThing
from stillroom.store.releases import CORRECTED, FOLDER, MANIFEST, wrong_in

ABOUT, EVIDENCE = "release.json", "evidence.npz"

SCHEMA = "stillroom/release/1"

_NAME = re.compile(r"\w(?:[\w\-. ]{0,78}[\w\-])?")
_DEVICES = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?")


def checked_name(name: str) -> str:
    """A name that may be a release's.

    Raises
    ------
    BadInput : it can't be the name of a folder everywhere.
    """
    if not _NAME.fullmatch(name) or _DEVICES.fullmatch(name):
        raise BadInput(
            "name of a release",
            found=repr(name),
            expected="up to 80 letters, figures, dashes, dots and spaces, such as 'summer-2026'",
        )
    return name


@dataclass(frozen=True)
class Release:
    """A frozen release.

    Parameters
    ----------
    folder : where it lies. about : its release.json as it stands.
    """

    folder: Path
    about: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Its name."""
        return self.folder.name

    @property
    def date(self) -> str:
        """When it was made, ISO."""
        return str(self.about["date"])

    @property
    def sequence(self) -> int:
        """The journal's last entry that it knows."""
        return int(self.about["journal"]["sequence"])

    @property
    def corrects(self) -> str:
        """Name of the release that it corrects; "" for none."""
        return str(self.about.get("corrects") or "")

    @property
    def measures(self) -> list[dict[str, Any]]:
        """What it publishes: slug, words, title, measure and version of each."""
        return list(self.about["measures"])

    @property
    def corrected_by(self) -> str:
        """Name of the release that corrects it; "" for none."""
        path = self.folder / CORRECTED
        return str(_told(path).get("by", "")) if path.is_file() else ""

    @cached_property
    def manifest(self) -> dict[str, dict[str, Any]]:
        """{path: bytes, sha256, what} of all its files but the manifest."""
        path = self.folder / MANIFEST
        try:
            return {str(each["path"]): each for each in _told(path)["files"] if each["sha256"]}
        except (KeyError, TypeError):
            raise _damaged(path, "no list of files") from None

    def standings(self, slug: str) -> dict[str, Any]:
        """The ranking of a measure, as its JSON."""
        return self._as_frozen(f"standings/{slug}.json")

    def trials(self, slug: str) -> dict[str, Array]:
        """The trials of each fan of a measure, SI, (M,)."""
        fans: list[str] = next((each["trials"] for each in self.measures if each["slug"] == slug), [])
        if not fans:
            return {}
        try:
            with np.load(io.BytesIO(self._bytes_as_frozen(EVIDENCE)), allow_pickle=False) as kept:
                rows = np.asarray(kept[slug], dtype=np.float64)
            return dict(zip(fans, rows, strict=True))
        except (ValueError, KeyError, TypeError, EOFError, BadZipFile, MemoryError) as error:
            raise _damaged(self.folder / EVIDENCE, str(error)) from None

    def charts(self) -> list[dict[str, Any]]:
        """Its charts, as charts/charts.json lists them."""
        return list(self._as_frozen("charts/charts.json")["charts"])

    def account(self) -> dict[str, Any]:
        """What it says in words, as documents/account.json holds it."""
        return self._as_frozen("documents/account.json")

    def methodology(self) -> dict[str, Any]:
        """Its methodology, as documents/methodology.json holds it."""
        return self._as_frozen("documents/methodology.json")

    def _as_frozen(self, path: str) -> dict[str, Any]:
        """What a file tells, as it was frozen."""
        return _object(self._bytes_as_frozen(path), self.folder / path)

    def _bytes_as_frozen(self, path: str) -> bytes:
        """The bytes of a file; none that differ from those that were frozen.

        Raises
        ------
        LabDamaged : it is missing, isn't listed, or was changed.
        """
        data, listed = _bytes(self.folder / path), self.manifest.get(path)
        if listed is None or hashlib.sha256(data).hexdigest() != listed["sha256"]:
            raise _damaged(self.folder / path, "other bytes than those that were frozen")
        return data

    def wrong(self) -> tuple[str, ...]:
        """Files that are missing, were changed, or don't belong to it, in words; none in a whole release."""
        return tuple(wrong_in(self.folder))


def read_release(lab: Path, name: str) -> Release:
    """A release of a lab.

    Parameters
    ----------
    lab : the lab's folder.

    Raises
    ------
    UnknownThing : there is none of that name. LabDamaged : its release.json can't be read.
    """
    known = [each.name for each in releases_of(lab)]
    folder = lab / FOLDER / name
    if name not in known and not (_NAME.fullmatch(name) and (folder / ABOUT).is_file()):
        raise UnknownThing(
            "release",
            found=repr(name),
            expected=", ".join(known) or "a release; `stillroom publish NAME` makes one",
        )
    return _opened(folder)


def releases_of(lab: Path) -> tuple[Release, ...]:
    """All releases of a lab, the oldest first by the journal, whatever the clock said then; a folder whose release.json
    can't be read is left out.
    """
    found = []
    for each in sorted((lab / FOLDER).glob(f"*/{ABOUT}")):
        if not _NAME.fullmatch(each.parent.name):  # one that is being made
            continue
        try:
            found.append(_opened(each.parent))
        except LabDamaged:
            continue
    return tuple(sorted(found, key=lambda each: (each.sequence, each.date, each.name)))


def _opened(folder: Path) -> Release:
    path = folder / ABOUT
    about = _told(path)
    if about.get("schema") != SCHEMA:
        raise LabDamaged("release", place=str(path), found=repr(about.get("schema")), expected=repr(SCHEMA))
    for name, is_right in _SHAPE.items():
        if not is_right(about.get(name)):
            raise _damaged(path, f"{name}: {str(about.get(name))[:80]!r}")
    return Release(folder, about)


def _is_day(told: object) -> bool:
    return isinstance(told, str) and _DAY.fullmatch(told) is not None


def _is_journal(told: object) -> bool:
    return isinstance(told, dict) and isinstance(told.get("sequence"), int)


def _are_measures(told: object) -> bool:
    return isinstance(told, list) and all(map(_is_measure, told))


def _is_measure(told: object) -> bool:
    if not isinstance(told, dict):
        return False
    texts = [told.get(each) for each in ("slug", "words", "title")]
    fans = told.get("trials")
    return (
        all(isinstance(each, str) for each in texts)
        and _SLUG.fullmatch(told["slug"]) is not None
        and isinstance(fans, list)
        and all(isinstance(each, str) for each in fans)
    )


_DAY, _SLUG = re.compile(r"\d{4}-\d\d-\d\d"), re.compile(r"[a-z0-9-]+")
_SHAPE = {"date": _is_day, "journal": _is_journal, "measures": _are_measures}
"""What a release.json must tell for the release to be read at all, and whether something is such a thing."""


def _told(path: Path) -> dict[str, Any]:
    return _object(_bytes(path), path)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise _damaged(path, error.strerror or str(error)) from None


def _object(data: bytes, path: Path) -> dict[str, Any]:
    try:
        told = json.loads(data.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        raise _damaged(path, str(error)) from None
    if not isinstance(told, dict):
        raise _damaged(path, type(told).__name__)
    return told


def _damaged(path: Path, found: str) -> LabDamaged:
    return LabDamaged("release", place=str(path), found=found, expected="the file as it was frozen")
