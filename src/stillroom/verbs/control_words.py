"""A fan's control in an answer: a table of numbers, the sentences, and the JSON."""

from __future__ import annotations

from stillroom import wording
from stillroom.compare.candidates import Bound, Candidate
from stillroom.core.intervals import coverage_interval
from stillroom.lab.control.asking import ControlFact, ControlOfFan
from stillroom.lab.range_words import both_ends
from stillroom.measures import Measure
from stillroom.verbs.said import Table
from stillroom.verbs.unknown_words import unknown_lines
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

TITLE = "Control, in free air"


def control_table(told: ControlOfFan, units: dict[str, str]) -> Table:
    """The measures of control as a table of words, no digit more than the interval allows."""
    headers = ("quantity", "value", "unit", "95 % interval", "how", "basis", "marks", "key")
    return Table(
        headers, tuple(_row(each.measure, each.found, units) for each in told.facts if each.found), right=(1,)
    )


def unknown_control_lines(told: ControlOfFan) -> list[str]:
    """What was tested of its control and is not known, and why."""
    return unknown_lines((each.measure.title, each.why) for each in told.facts if each.found is None)


def _row(measure: Measure, found: Candidate, units: dict[str, str]) -> tuple[str, ...]:
    title, unit = measure.title, shown_unit(BY_NAME[measure.quantity], units)
    low, high = (from_si(each, unit) for each in _interval(found))
    value = from_si(found.value, unit)
    places = wording.places_for((high - low) / 2) if high > low else 1
    basis = f"{wording.plural(found.samples, 'sample')}, {wording.plural(found.mountings, 'mounting')}"
    said = f"{found.bound.value} {wording.number(value, places)}".strip()
    if found.ends is not None:
        said = both_ends(from_si(found.ends.low, unit), from_si(found.ends.high, unit), places)
    interval = f"{wording.number(low, places)} to {wording.number(high, places)}"
    if found.bound is Bound.AT_MOST:
        interval = f"up to {wording.number(high, places)}"
    if found.bound is Bound.AT_LEAST:
        interval = f"{wording.number(low, places)} or more"
    return title, said, unit, interval, found.how.value, basis, ", ".join(found.marks), found.key[:10]


def _interval(found: Candidate) -> tuple[float, float]:
    return float(coverage_interval(found.low_trials)[0]), float(coverage_interval(found.high_trials)[1])


def control_data(told: ControlOfFan | None, units: dict[str, str]) -> dict[str, object] | None:
    """The documented JSON of a fan's control; None where it was not tested."""
    if told is None:
        return None
    return {"sentences": list(told.sentences), "numbers": [_fact_data(each, units) for each in told.facts]}


def _fact_data(fact: ControlFact, units: dict[str, str]) -> dict[str, object]:
    unit = shown_unit(BY_NAME[fact.measure.quantity], units)
    found = fact.found
    data: dict[str, object] = {"measure": fact.measure.name, "title": fact.measure.title, "unit": unit}
    if found is None:
        return data | {"value": None, "low": None, "high": None, "why": fact.why}
    low, high = (from_si(each, unit) for each in _interval(found))
    return data | {
        "value": from_si(found.value, unit),
        "low": None if found.bound is Bound.AT_MOST else low,
        "high": None if found.bound is Bound.AT_LEAST else high,
        "bound": found.bound.value,
        "ends": [from_si(each, unit) for each in (found.ends.low, found.ends.high)] if found.ends else None,
        "how": found.how.value,
        "samples": found.samples,
        "mountings": found.mountings,
        "marks": list(found.marks),
        "key": found.key,
        "why": "",
    }
