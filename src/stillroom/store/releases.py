"""Frozen releases on disk: which files belong to one, and whether each is as it was written.

The journal's entry of a release holds the hash of its manifest, and the manifest the hash of every other file.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from stillroom.records.publishing import Frozen
from stillroom.store.files import sha256_of

FOLDER = "releases"
MANIFEST = "manifest.json"

CORRECTED = "corrected.json"
"""What a correction leaves beside an old release's manifest: the name of the new one."""

NOTICE = "page/notice.js"
"""The one file of a release that a correction may write anew: it tells readers of the old page where the new one is."""

LOOSE = frozenset({NOTICE, CORRECTED, MANIFEST})
"""Files that no line of the manifest holds to their bytes."""


def listed(manifest: bytes) -> dict[str, str]:
    """{path: SHA-256} of the files that a manifest lists.

    Raises
    ------
    ValueError, KeyError, TypeError : it is no manifest.
    """
    told: Mapping[str, Any] = json.loads(manifest)
    return {str(each["path"]): str(each["sha256"]) for each in told["files"]}


def files_of(folder: Path) -> list[str]:
    """The files of a release's folder, as paths below it, in order."""
    found = (each for each in folder.rglob("*") if each.is_file() and not each.is_symlink())
    return sorted(each.relative_to(folder).as_posix() for each in found)


def wrong_in(folder: Path, digest: str = "") -> Iterator[str]:
    """What of a release isn't as it was written, a line each.

    Parameters
    ----------
    digest : of its manifest, as the journal has it; "" to take the manifest as it is.
    """
    try:
        manifest = (folder / MANIFEST).read_bytes()
        known = listed(manifest)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        yield f"{MANIFEST} is missing, or can't be read"
        return
    if digest and hashlib.sha256(manifest).hexdigest() != digest:
        yield f"{MANIFEST} was changed"
    here = files_of(folder)
    for path, told in known.items():
        if path not in here:
            yield f"{path} is missing"
        elif path not in LOOSE and sha256_of(folder / path) != told:
            yield f"{path} was changed"
    yield from (f"{path} doesn't belong to it" for path in here if path not in known and path not in LOOSE)


def wrong_releases(lab: Path, frozen: Mapping[str, Frozen]) -> tuple[str, ...]:
    """What of a lab's releases isn't as it was written; one whose folder was taken away is told as gone."""
    found: list[str] = []
    for name, record in frozen.items():
        folder = lab / FOLDER / name
        lines = list(wrong_in(folder, record.manifest)) if folder.is_dir() else ["its folder is gone"]
        found += [f"{FOLDER}/{name}: {line}" for line in lines]
    return tuple(found)
