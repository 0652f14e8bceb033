"""What a recording is of: a steady setting, a ramp, the background, the calibrator."""

from __future__ import annotations

from enum import Enum

from stillroom.errors import BadInput
from stillroom.vocabulary import plain


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
        {"calibrator", "calibration", "cal", "calib", "cal94", "cal114", "kalibrator", "kalibrierung", "kal",
         "kal94", "kal114", "calibreur", "calibrage", "étalonnage"}
    ),
}  # fmt: skip
_SIDES: dict[str, frozenset[str]] = {
    "up": frozenset({"up", "rising", "auf", "aufwärts", "hoch", "hochlauf", "runup", "montée", "montee"}),
    "down": frozenset({"down", "falling", "ab", "abwärts", "runter", "auslauf", "rundown", "descente"}),
    "before": frozenset({"before", "pre", "start", "first", "vorher", "vor", "avant"}),
    "after": frozenset({"after", "post", "end", "last", "nachher", "nach", "après", "apres"}),
}
_FILLERS = frozenset(
    {"noise", "level", "recording", "tone", "de", "run", "fan", "mic", "db", "94", "114", "1khz", "1k"}
)
_BY_WORDS = {tuple(each.value.split()): each for each in Recorded}


def recorded_in(text: str) -> Recorded | None:
    """What a word or a few words say was recorded ("bg", "ramp-up", "cal94", "background before"), or None.

    A ramp whose direction isn't told is None, and so are words that say anything else besides.
    """
    words = plain(text).split()
    things = {name for word in words for name, known in _THINGS.items() if word in known}
    sides = {name for word in words for name, known in _SIDES.items() if word in known}
    known = {
        *_FILLERS,
        *(each for table in (_THINGS, _SIDES) for several in table.values() for each in several),
    }
    if len(things) != 1 or len(sides) > 1 or any(word not in known for word in words):
        return None
    return _BY_WORDS.get((*things, *sides))


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
