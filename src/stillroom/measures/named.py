"""All measures, by name."""

from __future__ import annotations

import difflib
from dataclasses import replace

from stillroom.errors import UnknownThing
from stillroom.measures import airflow, control, heat, sound
from stillroom.measures.found import Measure, Origin
from stillroom.measures.value import Condition

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


def as_asked(measure: Measure, condition: Condition) -> Measure:
    """A measure in the words of what is asked of it: the speed needed is that for an airflow, or for a rise."""
    if measure.origin is not Origin.NEEDED or condition.for_heat is None:
        return measure
    return replace(
        measure,
        title="Speed needed for a temperature rise",
        definition="Least speed at which the temperature rise on the rig's radiator at nominal power is a given one.",
        through=False,
    )
