"""Names of files that are safe to keep: no way out of a folder, no name that a system reserves."""

from __future__ import annotations

import unicodedata

from stillroom.errors import BadInput

NAME_LIMIT = 200
"""Longest file name that is kept [bytes in UTF-8]."""

PATH_LIMIT = 600
"""Longest relative path that is kept [characters]."""

RESERVED = frozenset(
    {"con", "prn", "aux", "nul", "conin$", "conout$"}
    | {f"{port}{number}" for port in ("com", "lpt") for number in "123456789¹²³"}
)
"""Names that Windows gives to devices, with or without a suffix."""

_FORBIDDEN = frozenset('<>:"|?*\\/')


def safe_name(name: str) -> str:
    """A single file or folder name, if it can be kept on every system.

    Raises
    ------
    BadInput : it is empty, leads out of its folder, is reserved, or holds what some system refuses.
    """
    why = _refusal(name)
    if why:
        raise BadInput("file name", found=repr(name[:NAME_LIMIT]), expected=why)
    return name


def safe_path(path: str) -> str:
    """A relative path with forward slashes, if each part of it is a safe name.

    Raises
    ------
    BadInput : it is absolute, leads out of its folder, is too long, or a part of it isn't safe.
    """
    slashed = path.replace("\\", "/")
    if len(slashed) > PATH_LIMIT:
        found = f"{len(slashed)} characters"
        raise BadInput("path", place=slashed[:80] + "…", found=found, expected=f"at most {PATH_LIMIT}")
    if slashed.startswith("/") or slashed[1:2] == ":":
        raise BadInput("path", found=repr(path), expected="a path within the folder that is added")
    for part in slashed.split("/"):
        why = _refusal(part)
        if why:
            raise BadInput("path", found=repr(path), expected=f"{why} (part {part!r})")
    return slashed


def _refusal(name: str) -> str:
    """Why a name is refused, as what would be right; empty where it is safe."""
    reasons = (
        (not name or name in {".", ".."}, "a name, with no way out of the folder"),
        (len(name.encode("utf-8", "replace")) > NAME_LIMIT, f"at most {NAME_LIMIT} bytes in a name"),
        (any(each in _FORBIDDEN for each in name), 'no < > : " | ? * \\ / in a name'),
        (
            any(unicodedata.category(each) in {"Cc", "Cf", "Cs", "Zl", "Zp"} for each in name),
            "no control or invisible characters in a name",
        ),
        (name != name.strip() or name.endswith("."), "no blank around a name and no dot at its end"),
        (
            name.split(".", maxsplit=1)[0].strip().casefold() in RESERVED,
            "a name that Windows doesn't reserve",
        ),
    )
    return next((expected for refused, expected in reasons if refused), "")
