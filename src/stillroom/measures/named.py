"""All measures, by name."""

from __future__ import annotations

import difflib

from stillroom.errors import UnknownThing
from stillroom.measures import airflow, control, heat, sound
from stillroom.measures.found import Measure

MEASURES: tuple[Measure, ...] = (*airflow.MEASURES, *sound.MEASURES, *heat.MEASURES, *control.MEASURES)


def measure_named(name: str) -> Measure:
    """The measure of a name.

    Raises
    ------
    UnknownThing : there is none; the nearest is proposed.
    """
    for each in MEASURES:
        if each.name == name:
            return each
    names = [each.name for each in MEASURES]
    close = difflib.get_close_matches(name, names, n=1)
    raise UnknownThing("measure", found=repr(name), expected=close[0] if close else ", ".join(names))
