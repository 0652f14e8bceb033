"""A release as it lies in the lab's folder: frozen, with a hash of every file."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

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
        return str(_read(path).get("by", "")) if path.is_file() else ""

    @cached_property
    def manifest(self) -> dict[str, dict[str, Any]]:
        """{path: bytes, sha256, what} of all its files but the manifest."""
        return {str(each["path"]): each for each in _read(self.folder / MANIFEST)["files"]}

    def standings(self, slug: str) -> dict[str, Any]:
        """The ranking of a measure, as its JSON."""
        return _read(self.folder / "standings" / f"{slug}.json")

    def trials(self, slug: str) -> dict[str, Array]:
        """The trials of each fan of a measure, SI, (M,)."""
        fans: list[str] = next((each["trials"] for each in self.measures if each["slug"] == slug), [])
        if not fans:
            return {}
        try:
            with np.load(self.folder / EVIDENCE, allow_pickle=False) as kept:
                rows = np.asarray(kept[slug], dtype=np.float64)
        except (OSError, ValueError, KeyError) as error:
            raise LabDamaged(
                "evidence of a release",
                place=str(self.folder / EVIDENCE),
                found=str(error),
                expected="as written",
            ) from None
        return dict(zip(fans, rows, strict=True))

    def charts(self) -> list[dict[str, Any]]:
        """Its charts, as charts/charts.json lists them."""
        return list(_read(self.folder / "charts" / "charts.json")["charts"])

    def account(self) -> dict[str, Any]:
        """What it says in words, as documents/account.json holds it."""
        return _read(self.folder / "documents" / "account.json")

    def methodology(self) -> dict[str, Any]:
        """Its methodology, as documents/methodology.json holds it."""
        return _read(self.folder / "documents" / "methodology.json")

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
    """All releases of a lab, the oldest first; a folder whose release.json can't be read is left out."""
    found = []
    for each in sorted((lab / FOLDER).glob(f"*/{ABOUT}")):
        try:
            found.append(_opened(each.parent))
        except LabDamaged:
            continue
    return tuple(sorted(found, key=lambda each: (each.date, each.sequence, each.name)))


def _opened(folder: Path) -> Release:
    about = _read(folder / ABOUT)
    if about.get("schema") != SCHEMA:
        raise LabDamaged(
            "release", place=str(folder / ABOUT), found=repr(about.get("schema")), expected=repr(SCHEMA)
        )
    return Release(folder, about)


def _read(path: Path) -> dict[str, Any]:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise LabDamaged(
            "release", place=str(path), found=str(error), expected="the file as written"
        ) from None
    if not isinstance(told, dict):
        raise LabDamaged(
            "release", place=str(path), found=type(told).__name__, expected="the file as written"
        )
    return told
