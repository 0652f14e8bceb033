"""Which files are meant: paths as they were given, folders with all that lies in them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path, PurePosixPath

from stillroom.errors import BadInput, UnreadableFile
from stillroom.lab.intake.batch import File
from stillroom.readers.source import Source

LARGEST_FOLDER = 100_000


def files_of(paths: Sequence[Path]) -> list[File]:
    """All files under the paths; a folder's files carry the folder's own name before theirs.

    Raises
    ------
    BadInput : no path, nothing there, an empty or a much too large folder.
    UnreadableFile : a folder that can't be opened.
    """
    if not paths:
        raise BadInput("add", found="no path", expected="files or folders to bring in")
    found: list[File] = []
    for path in paths:
        if path.is_dir():
            found += _of_folder(path)
        elif path.exists():
            found.append(
                File(
                    name := _given_name(path), Source.of_path(path, name), len(paths) == 1, _above(path, name)
                )
            )
        else:
            raise BadInput("file", place=str(path), found="nothing there", expected="a file or a folder")
    return found


def _of_folder(path: Path) -> list[File]:
    base = path.resolve()
    inside = _inside(base)
    if not inside:
        raise BadInput("folder", place=str(path), found="no file in it", expected="exports or tables")
    if len(inside) > LARGEST_FOLDER:
        raise BadInput("folder", place=str(path), found=f"{len(inside):,} files", expected="fewer")
    shown = [each for each in inside if not is_hidden(each.relative_to(base))]
    return [File(name := name_in(base, each), Source.of_path(each, name)) for each in shown]


def _inside(folder: Path) -> list[Path]:
    """All files below a folder; a folder that can't be opened is an error, not silence."""

    def refuse(error: OSError) -> None:
        raise UnreadableFile(
            "folder", place=str(error.filename), found=error.strerror or "no entry", expected="one to be read"
        )

    walked = os.walk(folder, onerror=refuse)
    return sorted(
        each for here, _, names in walked for name in names if (each := Path(here) / name).is_file()
    )


def name_in(base: Path, path: Path) -> str:
    """A file's name in the lab when its folder was given: the folder's own name, then the way to it."""
    return f"{base.name}/{path.relative_to(base).as_posix()}"


def _given_name(path: Path) -> str:
    """A single file's name in the lab: its path as it was given, where that leads downwards."""
    downwards = not path.is_absolute() and ".." not in path.parts
    return path.as_posix() if downwards else path.name


NEAR = 3
"""So many folders over a file's name may tell what it is: FAN/s1/photos."""


def _above(path: Path, name: str) -> tuple[str, ...]:
    """The nearest folders over a file's name in the lab."""
    return path.absolute().parts[1 : -len(PurePosixPath(name).parts)][-NEAR:]


def is_hidden(path: Path) -> bool:
    """Whether a relative path leads through something hidden, or is an office program's mark of an open file."""
    return any(part.startswith((".", "~$")) for part in path.parts)
