"""What folder and file names say: fan, sample, obstacle, setting, by a pattern that is shown and confirmed.

A pattern is literal text and fields, with the suffix of the file left off:

    {fan}/s{sample}/{obstacle}/{duty}pct        fan-07/s1/rad27/60pct.csv
    {fan}_s{sample}_{obstacle}_{duty}pct        fan-07_s1_rad27_60pct.csv
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

from stillroom.errors import BadInput, Contradiction
from stillroom.readers.paths.safe import safe_path
from stillroom.readers.source import RECORDINGS

FIELDS: dict[str, tuple[str, str]] = {
    "fan": (r"[^/]+", "a fan's name"),
    "sample": (r"[0-9A-Za-z]+", "a sample's number or letter"),
    "mounting": (r"[0-9A-Za-z]+", "a mounting's number"),
    "obstacle": (r"[^/]+", "an obstacle's name"),
    "duty": (r"\d{1,3}(?:[.,]\d+)?", "a duty in per cent"),
    "volts": (r"\d{1,3}(?:[.,]\d+)?", "a voltage in volts"),
    "speed": (r"\d{2,6}(?:[.,]\d+)?", "a speed in revolutions per minute"),
    "rig": (r"[^/]+", "a rig's name"),
    "recording": (r"[^/]+", "what was recorded: dwell, ramp-up, background-before, calibrator …"),
    "channel": (r"\d{1,2}", "the channel of the microphone"),
    "session": (r"[^/]+", "which files make one run"),
    "logger": (r"[^/]+", "the logger whose clock wrote the file"),
    "date": (r"\d{4}-?\d{2}-?\d{2}", "a date"),
    "any": (r"[^/]+", "anything"),
}
"""{field: (what it can be, in a regular expression; what it means)}."""

SUFFIXES = (".csv", ".tsv", ".txt", ".dat", ".asc", ".log", ".xlsx", ".xls", ".ods")
"""Suffixes of tables, which are left off before a name is compared; so are those of recordings."""

SETTINGS = frozenset({"duty", "volts", "speed", "recording", "channel", "any"})
"""Fields that a recording of the background, of a ramp or of the calibrator need not have in its name."""

_PART = re.compile(r"\{(\w*)\}")
_WORDS = re.compile(r"[_ \-]*[^_ \-]+")


@dataclass(frozen=True)
class Pattern:
    """A pattern for the paths of measurement files.

    Parameters
    ----------
    text : literal text and fields, parts parted by "/".
    """

    text: str

    def __post_init__(self) -> None:
        names = _PART.findall(self.text)
        bare = _PART.sub("", self.text)
        place = f"pattern {self.text!r}"
        unknown = next((name for name in names if name not in FIELDS), None)
        if unknown is not None or "{" in bare or "}" in bare:
            found = f"{{{unknown}}}" if unknown is not None else "a single brace"
            raise BadInput(
                "field", place=place, found=found, expected="one of " + " ".join(f"{{{n}}}" for n in FIELDS)
            )
        twice = next((name for name in names if name != "any" and names.count(name) > 1), "")
        if twice:
            raise Contradiction("field", place=place, found=f"{{{twice}}} twice", expected="each field once")
        if not names:
            raise BadInput("pattern", place=place, found="no field", expected="fields such as {fan}")
        if "}{" in self.text:
            expected = "text between two fields, such as {fan}_{obstacle}"
            raise BadInput("pattern", place=place, found="two fields side by side", expected=expected)

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields, in order, without {any}."""
        return tuple(name for name in _PART.findall(self.text) if name != "any")

    @cached_property
    def _parts(self) -> tuple[tuple[str, re.Pattern[str], re.Pattern[str]], ...]:
        """Each part as text and twice as a regular expression: fields as short, and as long, as can be."""
        return tuple(
            (part, re.compile(_expression(part, "?")), re.compile(_expression(part, "")))
            for part in self.text.split("/")
        )

    def without(self, fields: Collection[str]) -> Pattern | None:
        """The pattern without the words of its last part that hold one of these fields, and without folders that are
        nothing else; None where no field is left.
        """
        *folders, last = self.text.split("/")
        words = _WORDS.findall(last)
        kept = [each for each in words if not any(f"{{{name}}}" in each for name in fields)]
        text = "".join(kept).lstrip("_- ")
        folders = [each for each in folders if not any(each == f"{{{name}}}" for name in fields)]
        text = "/".join([*folders, text] if _PART.search(text) else folders)
        return Pattern(text) if _PART.search(text) else None

    def match(self, path: str) -> dict[str, str]:
        """What a path says.

        Parameters
        ----------
        path : relative, with its suffix.

        Returns
        -------
        {field: text}, without {any}.

        Raises
        ------
        BadInput : the path isn't safe, or a part of it doesn't fit; says which.
        Contradiction : a part can be read in two ways.
        """
        parts = without_suffix(safe_path(path)).split("/")
        if len(parts) != len(self._parts):
            found = f"{len(parts)} parts"
            raise BadInput(
                f"path {path!r}", place=f"pattern {self.text!r}", found=found, expected=f"{len(self._parts)}"
            )
        said: dict[str, str] = {}
        for part, (text, short, long) in zip(parts, self._parts, strict=True):
            hit, other = short.fullmatch(part), long.fullmatch(part)
            if hit is None or other is None:
                raise BadInput(
                    f"path {path!r}", place=f"pattern {self.text!r}", found=repr(part), expected=text
                )
            if hit.groupdict() != other.groupdict():
                found = f"{part!r}, which fits {text} in two ways"
                raise Contradiction(
                    f"path {path!r}",
                    place=f"pattern {self.text!r}",
                    found=found,
                    expected="a narrower pattern",
                )
            said |= hit.groupdict()
        return said

    def table(self, paths: Sequence[str]) -> tuple[tuple[str, dict[str, str]], ...]:
        """Each path with what it says, for showing; raises as `match` at the first that doesn't fit."""
        return tuple((path, self.match(path)) for path in paths)


def table_of(pattern: Pattern | str, paths: Sequence[str]) -> tuple[tuple[str, dict[str, str]], ...]:
    """Each path with what it says by a pattern; raises as `Pattern.match` at the first that doesn't fit."""
    return (Pattern(pattern) if isinstance(pattern, str) else pattern).table(paths)


def _expression(part: str, greed: str) -> str:
    """A part as a regular expression; text fields are short ("?") or long ("")."""
    pieces = []
    for position, piece in enumerate(_PART.split(part)):
        if position % 2 == 0:
            pieces.append(re.escape(piece))
        else:
            what, _ = FIELDS[piece]
            what += greed if what.endswith("+") else ""
            pieces.append(f"(?:{what})" if piece == "any" else f"(?P<{piece}>{what})")
    return "".join(pieces)


def without_suffix(path: str) -> str:
    """A path without the suffix of a measurement file."""
    lower = path.casefold()
    suffix = next((each for each in (*SUFFIXES, *RECORDINGS) if lower.endswith(each)), "")
    return path[: len(path) - len(suffix)]
