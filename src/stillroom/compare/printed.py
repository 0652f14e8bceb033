"""What a box prints beside a number: which quantity, where on the curve, at which setting, within what tolerance.

Every clause must be understood: a condition that isn't makes a claim not checkable, never false.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import Enum, StrEnum

from stillroom.vocabulary import plain


class Worse(Enum):
    """On which side of a claim whoever buys gets less than was printed."""

    BELOW = "below"
    ABOVE = "above"
    EITHER = "either"


class Subject(Enum):
    """What a claim speaks of: the words that boxes use, the measure that answers it, its dimension, and on which
    side of the claim it is worse. More air or pressure than printed is no failure, nor is less power or noise; a
    speed is printed as what it is.
    """

    AIRFLOW = ("free airflow", "free-airflow", "flow", Worse.BELOW)
    PRESSURE = ("maximum pressure", "maximum-pressure", "pressure", Worse.BELOW)
    SPEED = ("speed", "free-speed", "speed", Worse.EITHER)
    POWER = ("power", "free-power", "power", Worse.ABOVE)
    NOISE = ("noise", "level", "level", Worse.ABOVE)
    CURRENT = ("current", "", "current", Worse.ABOVE)

    @property
    def title(self) -> str:
        """The quantity in words."""
        return self.value[0]

    @property
    def measure(self) -> str:
        """The measure that answers it, or "" where none does yet."""
        return self.value[1]

    @property
    def dimension(self) -> str:
        """The dimension of its units."""
        return self.value[2]

    @property
    def worse(self) -> Worse:
        """On which side of the claim it is worse."""
        return self.value[3]


class Place(StrEnum):
    """Where on a fan's curve a value holds."""

    UNTOLD = ""
    FREE = "free delivery"
    SHUT = "shut-off"


_WORDS: dict[Subject, tuple[str, ...]] = {
    Subject.AIRFLOW: ("airflow", "air flow", "flow", "volume flow", "flow rate", "q"),
    Subject.PRESSURE: ("static pressure", "pressure", "air pressure", "ps"),
    Subject.SPEED: ("speed", "fan speed", "rotational speed", "rpm", "n"),
    Subject.POWER: ("power", "electrical power", "input power", "power consumption", "rated power"),
    Subject.NOISE: ("noise", "noise level", "sound", "sound level", "sound pressure level", "loudness"),
    Subject.CURRENT: ("current", "input current", "rated current"),
}
_BY_WORD = {word: subject for subject, words in _WORDS.items() for word in words}
_AT_AN_END = {
    "free": Place.FREE, "free delivery": Place.FREE, "maximum": Place.UNTOLD, "max": Place.UNTOLD,
    "shut off": Place.SHUT,
}  # fmt: skip


def subject_of(quantity: str) -> tuple[Subject, Place] | None:
    """The quantity that a box's word names, and where on the curve the word itself puts it; None if unknown.

    The greatest airflow is that at free delivery, the greatest pressure that at shut-off.
    """
    words = plain(quantity)
    if words in _BY_WORD:
        return _BY_WORD[words], Place.UNTOLD
    for first, place in _AT_AN_END.items():
        rest = words.removeprefix(first + " ")
        if rest != words and rest in _BY_WORD:
            subject = _BY_WORD[rest]
            ends = {Subject.AIRFLOW: Place.FREE, Subject.PRESSURE: Place.SHUT}
            return subject, place or ends.get(subject, Place.UNTOLD)
    return None


@dataclass(frozen=True)
class Printed:
    """A condition as printed.

    Parameters
    ----------
    place : where on the curve. full : whether full setting is told. speed [1/s], duty [1], volts [V].
    distance : of a microphone [m]. tolerance : relative, ± [1]. level_tolerance : of a level, ± [dB].
    All None where none is printed. unknown : clauses that aren't understood.
    """

    place: Place = Place.UNTOLD
    full: bool = False
    speed: float | None = None
    duty: float | None = None
    volts: float | None = None
    distance: float | None = None
    tolerance: float | None = None
    level_tolerance: float | None = None
    unknown: tuple[str, ...] = ()

    @property
    def has_setting(self) -> bool:
        """Whether the fan's setting is told."""
        return self.full or any(each is not None for each in (self.speed, self.duty, self.volts))


_FREE = {"free delivery", "free air", "free", "free blowing", "open", "zero pressure", "zero static pressure",
         "no pressure", "0 pa", "at 0 pa", "unobstructed"}  # fmt: skip
_SHUT = {"shut off", "shutoff", "zero flow", "no flow", "blocked", "zero airflow", "0 m3 h"}
_FULL = {"full speed", "full setting", "maximum speed", "max speed", "full", "rated voltage", "100 %", "100%"}
_AIR = {"1 2 kg m3", "20 c", "20 degc", "standard air", "sea level", "20 °c"}
"""Clauses of the air that values are brought to anyway."""

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_TOLERANCE = re.compile(rf"(?:±|\+/-|\+-|tolerance)\s*{_NUMBER}\s*%")
_LEVEL_TOLERANCE = re.compile(rf"(?:±|\+/-|\+-|tolerance)\s*{_NUMBER}\s*db\s*(?:\(?a\)?)?")
_METRES, _CENTIMETRES, _MILLIMETRES = (
    re.compile(rf"(?:distance\s*|from\s*|in\s*|@\s*)?{_NUMBER}\s*(?:{unit})(?:\s*(?:distance|away))?")
    for unit in ("m|met(?:re|er)s?", "cm", "mm")
)
_VOLTS = re.compile(rf"{_NUMBER}\s*v(?:olts?)?(?:\s*dc)?")
_SPEED = re.compile(rf"{_NUMBER}\s*(?:rpm|1/min|r/min)")
_DUTY = re.compile(rf"(?:pwm|duty)?\s*{_NUMBER}\s*%\s*(?:pwm|duty)?(?:\s*cycle)?")


def read_printed(condition: str) -> Printed:
    """A condition as printed, clause by clause: parted by commas, semicolons, slashes with blanks, else by blanks."""
    found = Printed()
    for clause in re.split(r"[,;]\s+|\s/\s|[,;]$", condition.strip()):
        if clause.strip():
            found = _with_clause(found, clause.strip())
    return found


def _with_clause(found: Printed, clause: str) -> Printed:
    """What a clause tells; one without commas, such as "shut-off 12 V", by the longest parts that are understood."""
    whole = _understood(found, clause)
    if whole is not None:
        return whole
    words, told = clause.split(), found
    while words:
        for end in range(len(words), 0, -1):
            part = _understood(told, " ".join(words[:end]))
            if part is not None:
                told, words = part, words[end:]
                break
        else:
            return replace(found, unknown=(*found.unknown, clause))
    return told


def _understood(found: Printed, clause: str) -> Printed | None:
    """The same with what one clause tells; None where it isn't understood."""
    words = clause.casefold().removeprefix("at ").strip()
    folded = plain(words)
    for known, change in (
        (_FREE, {"place": Place.FREE}),
        (_SHUT, {"place": Place.SHUT}),
        (_FULL, {"full": True}),
        (_AIR, {}),
    ):
        if folded in known:
            return replace(found, **change)
    for pattern, field, factor in (
        (_TOLERANCE, "tolerance", 0.01),
        (_LEVEL_TOLERANCE, "level_tolerance", 1.0),
        (_METRES, "distance", 1.0),
        (_CENTIMETRES, "distance", 0.01),
        (_MILLIMETRES, "distance", 0.001),
        (_VOLTS, "volts", 1.0),
        (_SPEED, "speed", 1.0 / 60.0),
        (_DUTY, "duty", 0.01),
    ):
        hit = pattern.fullmatch(words)
        if hit:
            return replace(found, **{field: float(hit.group(1).replace(",", ".")) * factor})  # type: ignore[arg-type]
    return None
