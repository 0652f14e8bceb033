"""The tree of errors, drawn once.

    StillroomError            anything that Stillroom says "no" to; names thing, place, found, expected
    ├── BadInput              the user's file, table, option or setting is wrong        (exit code 2)
    │   ├── UnreadableFile    the bytes are not what their kind of file should hold
    │   ├── UnknownUnit       a unit, or a missing unit, that nothing allows to be guessed
    │   ├── UnknownThing      a name that no record in the lab carries
    │   └── Contradiction     two things that are said can't both be true
    ├── OutOfRange            a value lies outside what a standard or a physical law admits
    ├── NotPossible           what was asked can't be computed from what there is ("could not")
    └── LabDamaged            the lab folder is not as the journal says                 (exit code 2)

A message always says which thing, at which place (file, line, column), what was found there, and what
would be right. There is one shape towards the outside: `StillroomError.as_dict`.
"""

from __future__ import annotations


class StillroomError(Exception):
    """The root of all errors that Stillroom raises on purpose.

    Parameters
    ----------
    thing : what is wrong, named as the user knows it ("column 'flow'", "nozzle N25").
    place : where it was found ("exports/a.csv, line 4, column 3"); empty where there is no place.
    found : what was there.
    expected : what would be right.
    """

    def __init__(self, thing: str, *, place: str = "", found: str = "", expected: str = "") -> None:
        self.thing = thing
        self.place = place
        self.found = found
        self.expected = expected
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """The error in one line of plain words."""
        parts = [self.thing]
        if self.place:
            parts.append(f"in {self.place}")
        text = " ".join(parts)
        if self.found:
            text += f": found {self.found}"
        if self.expected:
            text += f"; expected {self.expected}"
        return text

    def as_dict(self) -> dict[str, dict[str, str]]:
        """The one shape to the outside: {"error": {thing, place, found, expected}}."""
        return {
            "error": {
                "thing": self.thing,
                "place": self.place,
                "found": self.found,
                "expected": self.expected,
            }
        }

    def __reduce__(self) -> tuple[object, ...]:
        """Let an error cross a process boundary with all four of its words."""
        return (_again, (type(self), self.thing, self.place, self.found, self.expected))


def _again(kind: type[StillroomError], thing: str, place: str, found: str, expected: str) -> StillroomError:
    return kind(thing, place=place, found=found, expected=expected)


class BadInput(StillroomError):
    """The user's file, table, option or setting is wrong."""


class UnreadableFile(BadInput):
    """The bytes are not what their kind of file should hold."""


class UnknownUnit(BadInput):
    """A unit that is not in the vocabulary, or is missing where it can't be guessed."""


class UnknownThing(BadInput):
    """A name that no record in the lab carries."""


class Contradiction(BadInput):
    """Two things that are said can't both be true."""


class OutOfRange(StillroomError):
    """A value outside what a standard or a physical law admits."""


class NotPossible(StillroomError):
    """What was asked can't be computed from what there is."""


class LabDamaged(StillroomError):
    """The lab folder is not as its journal says."""
