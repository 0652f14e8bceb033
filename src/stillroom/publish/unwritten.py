"""What is said where a release or a dossier can't be written."""

from __future__ import annotations

from pathlib import Path

from stillroom.errors import StillroomError


def unwritten(
    thing: str, error: OSError, place: Path, kind: type[StillroomError] = StillroomError
) -> StillroomError:
    """An error of the system in plain words: a file that is missing is told as that, all else as no room or no right.

    Parameters
    ----------
    thing : what was being written. place : where, if the error names no file. kind : of what can be mended by another
        place; a missing file can't, and is always a `StillroomError`.
    """
    where = str(error.filename or place)
    if isinstance(error, FileNotFoundError):
        return StillroomError(
            thing,
            place=where,
            found="no such file",
            expected="a file that the program or the lab holds; it was moved or removed",
        )
    return kind(
        thing, place=where, found=error.strerror or str(error), expected="room and the right to write"
    )
