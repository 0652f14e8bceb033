"""Taking back files that were brought in by mistake: their runs stand no more, and nothing is lost.

The originals and all entries stay; a new entry says that the runs are out of use, why, and who said so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from stillroom.errors import BadInput, Contradiction, UnknownThing
from stillroom.records.acts import Taken
from stillroom.store import journal
from stillroom.store.files import sha256_of
from stillroom.store.journal import WITHDRAWN, Note
from stillroom.store.lab import Lab

SHOWN = 3
REASON = "reason"


def withdraw(lab: Lab, paths: Sequence[Path], reason: str) -> list[Taken]:
    """Take files back, each whole; what they told of runs is in use no more.

    Parameters
    ----------
    paths : each a file that the lab has, by its bytes, by its name in the lab or the end of that, or by the
        identity of one of its runs. reason : why, in words.

    Returns
    -------
    The runs that stand no more.

    Raises
    ------
    BadInput : no path or no reason. UnknownThing : the lab has no such file.
    Contradiction : a name that several files end with.
    """
    if not paths or not reason.strip():
        found = "no reason" if paths else "no path"
        raise BadInput("--withdraw", found=found, expected="files that were added, and --reason WHY")
    standing = list(lab.current(Taken).values())
    gone = {each.name: each for path in paths for each in _meant(path, standing)}
    body = {"kind": Taken.kind, REASON: reason.strip()}
    lab.write([Note(WITHDRAWN, name, body) for name in gone])
    return list(gone.values())


def withdrawn_files(lab: Lab) -> dict[str, str]:
    """{SHA-256: when and why} of the files that were taken back and have not been added again."""
    standing = {each.sha256 for each in lab.current(Taken).values()}
    found: dict[str, str] = {}
    for entry in journal.entries_of(lab.database, WITHDRAWN):
        sha256 = entry.name.partition("/")[0]
        if entry.body.get("kind") == Taken.kind and REASON in entry.body and sha256 not in standing:
            found[sha256] = (
                f"withdrawn on {entry.time[:10]}: {entry.body[REASON]}; added by its own path it comes back"
            )
    return found


def _meant(path: Path, standing: Iterable[Taken]) -> list[Taken]:
    """The runs of the file that is meant: by its bytes first, then by a run's identity, then by its name."""
    text = path.as_posix()
    own = sha256_of(path) if path.is_file() else ""
    runs = list(standing)
    meant = (
        {each.sha256 for each in runs if each.sha256 == own}
        or {each.sha256 for each in runs if text in (each.run, each.words, each.file)}
        or {each.sha256 for each in runs if each.file.endswith(f"/{text}")}
    )
    if not meant:
        raise UnknownThing("file", found=repr(text), expected="a file whose runs stand in the lab")
    found = [each for each in runs if each.sha256 in meant]
    if len(meant) > 1:
        names = ", ".join(list(dict.fromkeys(f"{each.file} (run {each.run})" for each in found))[:SHOWN])
        raise Contradiction(
            "file", place=text, found=f"several: {names}", expected="one, by a run's identity"
        )
    return found
