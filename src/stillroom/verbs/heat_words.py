"""A fan on the heat rigs in words: the table of its rises at full setting and at the lab's noise limits."""

from __future__ import annotations

from stillroom import wording
from stillroom.compare.candidates import Bound, Candidate, How
from stillroom.lab.heat.asking import HeatFact, HeatOnRig
from stillroom.lab.numbers import Number, number_of
from stillroom.lab.system_words import conditions_line
from stillroom.measures import Measure
from stillroom.measures.heat import HEAT
from stillroom.verbs.said import Table
from stillroom.verbs.unknown_words import unknown_lines, why_words
from stillroom.vocabulary import BY_NAME, from_si, shown_unit


def heat_title(told: HeatOnRig) -> str:
    """Over the table of one rig."""
    power = told.conditions.get("nominal power")
    return f"Heat on {told.rig}" + (f", at {power}" if power else "")


def heat_lines(told: HeatOnRig) -> list[str]:
    """Under what a rig's numbers hold, and which mountings could not be used."""
    lines = (
        [conditions_line(told.conditions).replace("Conditions", f"Heat on {told.rig}")]
        if told.conditions
        else []
    )
    left: dict[tuple[str, str], list[str]] = {}
    for row in told.rows:
        for fact in row.facts:
            for each in fact.left_out if fact.measure.name == HEAT else ():
                if each[1] != fact.why:  # else the line of what is unknown says it
                    left.setdefault(each, []).append(row.at)
    return [
        *lines,
        *(f"Not used: {name}, {wording.listed(at)}: {why_words(why)}" for (name, why), at in left.items()),
    ]


def heat_table(told: HeatOnRig, units: dict[str, str]) -> Table:
    """One line a setting or limit and measure, of what is known."""
    rows = [
        _row(row.at, fact.measure, fact.found, units) for row in told.rows for fact in row.facts if fact.found
    ]
    headers = ("at", "quantity", "value", "unit", "95 % interval", "how", "basis", "marks", "key")
    return Table(headers, tuple(rows), right=(2,))


def unknown_heat_lines(told: HeatOnRig) -> list[str]:
    """What is not known on a rig, and why; a measure that nobody read anywhere is left out."""
    names = {fact.measure.name for row in told.rows for fact in row.facts if fact.found} | {HEAT}
    reasons: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for row in told.rows:
        gone = [each for each in row.facts if each.found is None and each.measure.name in names]
        reasons.setdefault(tuple((each.measure.title, each.why) for each in gone), []).append(row.at)
    return [
        line
        for gone, at in reasons.items()
        for line in unknown_lines(gone, f"on {told.rig} {wording.listed(at)}")
    ]


def _row(at: str, measure: Measure, found: Candidate, units: dict[str, str]) -> tuple[str, ...]:
    title, number = measure.title, number_of(measure, found)
    unit, (value, low, high) = _shown(number, units)
    places = wording.places_for((high - low) / 2) if high > low else 1
    said = wording.number(value, places)
    said = f"{number.bound.value} {said}" if number.bound is not Bound.NONE else said
    interval = f"{wording.number(low, places)} to {wording.number(high, places)}"
    basis = f"{wording.plural(number.samples, 'sample')}, {wording.plural(number.mountings, 'mounting')}"
    marks = ", ".join(number.marks)
    return (at, title, said, unit, interval, number.how.value, basis, marks, number.key[:10])


def _shown(number: Number, units: dict[str, str]) -> tuple[str, tuple[float, float, float]]:
    unit = shown_unit(BY_NAME[number.measure.quantity], units)
    told = (number.value or 0.0, number.low or 0.0, number.high or 0.0)
    value, low, high = (from_si(each, unit) for each in told)
    return unit, (value, low, high)


def heat_data(told: HeatOnRig, units: dict[str, str]) -> dict[str, object]:
    """The documented JSON of a fan on one rig."""
    return {
        "rig": told.name,
        "conditions": dict(told.conditions),
        "rows": [
            {"at": row.at.removeprefix("at "), "numbers": [_fact_data(fact, units) for fact in row.facts]}
            for row in told.rows
        ],
    }


def _fact_data(fact: HeatFact, units: dict[str, str]) -> dict[str, object]:
    data: dict[str, object] = {"measure": fact.measure.name, "title": fact.measure.title, "why": fact.why}
    data["left_out"] = [{"mounting": name, "why": why} for name, why in fact.left_out]
    if fact.found is None:
        unit = shown_unit(BY_NAME[fact.measure.quantity], units)
        return data | {"unit": unit, "value": None, "low": None, "high": None, "how": How.UNKNOWN.value}
    number = number_of(fact.measure, fact.found)
    unit, (value, low, high) = _shown(number, units)
    return data | {
        "unit": unit,
        "value": value,
        "low": low,
        "high": high,
        "bound": number.bound.value,
        "how": number.how.value,
        "samples": number.samples,
        "mountings": number.mountings,
        "marks": list(number.marks),
        "key": number.key,
    }
