"""What a recording is of: a steady setting, a ramp, the background, the calibrator."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from stillroom.errors import BadInput


class Recorded(Enum):
    """What was recorded. The values are the words of names, tables and JSON."""

    DWELL = "dwell"
    RAMP_UP = "ramp up"
    RAMP_DOWN = "ramp down"
    BACKGROUND = "background"
    BACKGROUND_BEFORE = "background before"
    BACKGROUND_AFTER = "background after"
    CALIBRATOR = "calibrator"
    CALIBRATOR_BEFORE = "calibrator before"
    CALIBRATOR_AFTER = "calibrator after"

    @property
    def is_ramp(self) -> bool:
        """Whether the speed is swept."""
        return self in {Recorded.RAMP_UP, Recorded.RAMP_DOWN}

    @property
    def is_background(self) -> bool:
        """Whether the fan is off."""
        return self in {Recorded.BACKGROUND, Recorded.BACKGROUND_BEFORE, Recorded.BACKGROUND_AFTER}

    @property
    def is_calibrator(self) -> bool:
        """Whether it is the calibrator's tone."""
        return self in {Recorded.CALIBRATOR, Recorded.CALIBRATOR_BEFORE, Recorded.CALIBRATOR_AFTER}

    @property
    def is_of_fan(self) -> bool:
        """Whether a fan runs in it."""
        return self is Recorded.DWELL or self.is_ramp


_THINGS: dict[str, frozenset[str]] = {
    "dwell": frozenset({"dwell", "steady", "hold", "stationär", "stationaer", "palier"}),
    "ramp": frozenset({"ramp", "sweep", "rampe", "hochlauf", "auslauf", "runup", "rundown"}),
    "background": frozenset(
        {"background", "bg", "bkg", "backgr", "ambient", "off", "hintergrund", "fremdgeräusch", "grundgeräusch",
         "fond", "bruit"}
    ),
    "calibrator": frozenset(
        {"calibrator", "calibration", "cal", "calib", "kalibrator", "kalibrierung", "kal",
         "calibreur", "calibrage", "étalonnage"}
    ),
}  # fmt: skip
_SIDES: dict[str, frozenset[str]] = {
    "up": frozenset({"up", "rising", "auf", "aufwärts", "hoch", "hochlauf", "runup", "montée", "montee"}),
    "down": frozenset({"down", "falling", "ab", "abwärts", "runter", "auslauf", "rundown", "descente"}),
    "before": frozenset({"before", "pre", "start", "first", "vorher", "vor", "avant"}),
    "after": frozenset({"after", "post", "end", "last", "nachher", "nach", "après", "apres"}),
}
_FILLERS = frozenset({"noise", "level", "recording", "tone", "de", "run", "fan", "mic", "db", "1khz", "1k"})
_BY_WORDS = {tuple(each.value.split()): each for each in Recorded}
_LEVELS = {"94": 94.0, "114": 114.0}
"""Levels of calibrators [dB], as names of recordings carry them; common practice."""

UNDIRECTED = "ramp"
"""What is said of a ramp that isn't told to rise or to fall."""

_TOKENS = re.compile(r"[^\W\d_]+|\d+(?:[.,]\d+)?|[\W_]+")


def recorded_in(text: str) -> Recorded | None:
    """What a word or a few words say was recorded ("bg", "ramp-up", "cal94", "background before"), or None.

    A ramp whose direction isn't told is None, and so are words that say anything else besides.
    """
    named = recorded_in_name(text)
    return None if named is None or named.rest else _BY_WORDS.get(tuple(named.words.split()))


def recorded(text: str, place: str) -> Recorded:
    """What words say was recorded.

    Raises
    ------
    BadInput : they say none of it, or of a ramp not whether it rises.
    """
    found = recorded_in(text)
    if found is None:
        raise BadInput(
            "recording",
            place=place,
            found=repr(text),
            expected="one of " + ", ".join(each.value for each in Recorded),
        )
    return found


@dataclass(frozen=True)
class NamedRecording:
    """What a name says was recorded.

    Parameters
    ----------
    words : the value of a `Recorded`, or `UNDIRECTED`. rest : the name without these words, "" where it has no
    others. level : of the calibrator [dB], where the name tells it; else None.
    """

    words: str
    rest: str
    level: float | None = None


def recorded_in_name(name: str) -> NamedRecording | None:
    """What a file's name without folders and ending says was recorded: "fan-07_s1_ramp-up" is a ramp up, and the
    rest of it "fan-07_s1"; None where it says nothing of it, or two things.
    """
    as_written = _TOKENS.findall(name)
    pieces = [each.casefold() for each in as_written]
    things = [_word_of(each, _THINGS) for each in pieces]
    kinds = set(filter(None, things))
    if len(kinds) != 1:
        return None
    kind = kinds.pop()
    allowed = ("up", "down") if kind == "ramp" else () if kind == "dwell" else ("before", "after")
    sides = [_word_of(each, {name: _SIDES[name] for name in allowed}) for each in pieces]
    told = set(filter(None, sides))
    if len(told) > 1:
        return None
    levels = [_LEVELS.get(each) if kind == "calibrator" else None for each in pieces]
    used = [bool(things[i] or sides[i] or levels[i]) for i in range(len(pieces))]
    words = " ".join((kind, *told))
    return NamedRecording(words, _rest(as_written, used), next(filter(None, levels), None))


def _word_of(piece: str, table: Mapping[str, Collection[str]]) -> str:
    return next((name for name, words in table.items() if piece in words), "")


def _rest(pieces: Sequence[str], used: Sequence[bool]) -> str:
    """The pieces that weren't used, without fillers and counters right behind used ones."""
    kept: list[str] = []
    behind = False
    for at, (piece, gone) in enumerate(zip(pieces, used, strict=True)):
        is_word = piece[0].isalnum()
        if gone or (behind and is_word and _is_filler(pieces, at)):
            behind = True
            continue
        behind = behind and not is_word
        if is_word or (kept and kept[-1][0].isalnum()):
            kept.append(piece)
    while kept and not kept[-1][0].isalnum():
        kept.pop()
    return "".join(kept)


def _is_filler(pieces: Sequence[str], at: int) -> bool:
    """Whether a piece says nothing of its own: a word such as "noise", or a counter ("bg 2", but not "60pct")."""
    glued = at + 1 < len(pieces) and pieces[at + 1][0].isalpha()
    return pieces[at].casefold() in _FILLERS or (pieces[at].isdigit() and len(pieces[at]) < 3 and not glued)
