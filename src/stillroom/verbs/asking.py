"""Asking of one fan: every number that its curves hold, and by which way it was had."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from stillroom import wording
from stillroom.compare.candidates import Bound
from stillroom.errors import BadInput
from stillroom.lab import asking
from stillroom.lab.airflow.answering import Point
from stillroom.lab.asking import Answer
from stillroom.lab.blocking import blocked_in
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import as_written
from stillroom.lab.numbers import Number, number_of
from stillroom.lab.pictures.condition_words import air_phrase, speed_phrase, subject, through_phrase
from stillroom.lab.range_words import both_ends
from stillroom.lab.sound.level_words import speed_in_words
from stillroom.lab.sound.set_list import AtNoise
from stillroom.lab.sound.set_words import avoid_words, interval_words, row_data, setting_cell, speed_words
from stillroom.lab.system_words import conditions_line
from stillroom.lab.whole import worked_out
from stillroom.measures import Origin
from stillroom.verbs.conditions import USUAL, Conditions
from stillroom.verbs.constrained import Want, constrained
from stillroom.verbs.control_words import TITLE as CONTROL_TITLE
from stillroom.verbs.control_words import control_data, control_table, unknown_control_lines
from stillroom.verbs.doors import open_lab
from stillroom.verbs.heat_words import heat_data, heat_lines, heat_table, heat_title, unknown_heat_lines
from stillroom.verbs.said import Said, Table
from stillroom.verbs.unknown_words import unknown_lines, why_words
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

SCHEMA = "stillroom/answer/1"


def ask(
    fan: str = "",
    *,
    through: str = "",
    conditions: Conditions = USUAL,
    measure: str = "",
    at_least: str = "",
    at_most: str = "",
    under_price: float = 0.0,
    size: str = "",
    thickness: str = "",
    against: str = "",
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Ask what one fan does: airflow, pressure, speed, power, efficiency, sound and heat, and how each number was had.

    Without a fan, or with any of --measure, --at-least, --at-most, --under-price, --size, --thickness, --against: which
    fans meet what is wanted, surely, perhaps or not, and of which it is unknown and why.

    Parameters
    ----------
    fan : its name, in capitals or not; none to ask of all fans.
    through : what the air goes through, as for rank; without it the whole curve is answered for.
    conditions : setting, system and air; each field is an option of the command line.
    measure : what is asked for, as for rank; airflow where none is named.
    at_least : the least that it may be, such as '60 m³/h'; of a level an airflow sets the speed.
    at_most : the most that it may be, such as '20 %'; of an airflow '30 dBA' is the noise limit.
    under_price : the most that as many fans as one answer takes may cost, in the currency of most prices.
    size : the size class, such as '120 mm'; the most common one where none is given.
    thickness : of the frame as printed, such as '25 mm'.
    against : a fan, or a legacy number's, that the others are held against: difference, interval and verdict.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    want = Want(fan, measure, at_least, at_most, under_price, size, thickness, against)
    if want.is_told or not fan:
        if not want.is_told and not through and conditions == USUAL:
            raise BadInput(
                "ask",
                found="no fan and nothing wanted",
                expected="a fan, or such as --through rad27 --noise 35",
            )
        return constrained(want, through, conditions, lab, progress)
    condition = conditions.through(through)
    with open_lab(lab) as opened:
        _, book, graph, doubts = worked_out(opened, progress)
        (fan,) = as_written(book, graph, (fan,))
        blocked = blocked_in(doubts, book, graph, condition.obstacle)
        found = asking.answer(opened, book, graph, fan, condition, blocked=blocked, progress=progress)
        units = opened.settings.units
    common = _common(found.numbers)
    is_known = any(each.value is not None for each in found.numbers)
    tables = [("", _numbers_table(found, units, common))] if is_known else []
    if found.points:
        tables.append(("Operating points, from the greatest flow down", _points_table(found.points, units)))
    if found.noise is not None and not found.noise.why:
        tables.append((f"At {found.noise.limit}", _noise_table(found.noise)))
    tables += [(heat_title(each), heat_table(each, units)) for each in found.heat]
    tables += [(CONTROL_TITLE, control_table(found.control, units))] if found.control else []
    tables = [each for each in tables if each[1].rows]
    lines = [conditions_line(found.conditions)] if is_known or not tables else []
    lines += [f"Of all numbers: {', '.join(common)}"] if common else []
    lines += _left_out_words(found.numbers)
    lines += [line for each in found.heat for line in heat_lines(each)]
    lines += found.control.sentences if found.control else ()
    lines += unknown_lines((each.measure.title, each.why) for each in found.numbers if each.value is None)
    lines += [line for each in found.heat for line in unknown_heat_lines(each)]
    lines += unknown_control_lines(found.control) if found.control else []
    return Said(_title(found, units), tuple(tables), tuple(lines), _data(found, units))


def _left_out_words(numbers: Sequence[Number]) -> list[str]:
    """Which mountings could not be used, for what, and why."""
    told: dict[tuple[str, str], list[str]] = {}
    for each in numbers:
        for mounting in each.left_out:
            if mounting[1] != each.why:  # else the line of what is unknown says it
                told.setdefault(mounting, []).append(each.measure.title.lower())
    return [
        f"Not used: {name} for {wording.listed(what)}: {why_words(why)}" for (name, why), what in told.items()
    ]


def _title(found: Answer, units: dict[str, str]) -> str:
    """The answer in one sentence."""
    first = found.numbers[0]
    told = found.conditions
    whom, are_several = subject(found.fan, told)
    whom, move = (whom[0].upper() + whom[1:], "move") if are_several else (whom, "moves")
    at = f"{through_phrase(told) or 'in free air'} {speed_phrase(told)}"
    at += f", {air}" if (air := air_phrase(told)) else ""
    if first.value is None:
        return _of_other_rooms(found, units) or f"{whom} {at}: unknown. {first.why}"
    unit, (value, low, high) = _shown(first, units)
    if BY_NAME[first.measure.quantity].name != "flow":
        said = _bounded(first, wording.with_interval(value, low, high, unit))
        return f"{first.measure.title} of {wording.isolate(found.fan)} {at}: {said}."
    if first.is_range:
        return f"{whom} {at} {move} {wording.spread(low, high, unit)}: one value would be a lie."
    return f"{whom} {move} {_bounded(first, wording.with_interval(value, low, high, unit))} {at}."


def _of_other_rooms(found: Answer, units: dict[str, str]) -> str:
    """What is known of a fan without airflow, in one sentence: the first of its heat, else of its control; or ""."""
    for rig in found.heat:
        for row in rig.rows:
            known = (number_of(each.measure, each.found) for each in row.facts if each.found)
            for number in known:
                unit, (value, low, high) = _shown(number, units)
                said = _bounded(number, wording.with_interval(value, low, high, unit))
                return (
                    f"{number.measure.title} of {wording.isolate(found.fan)} on {rig.rig} {row.at}: {said}."
                )
    sentences = found.control.sentences if found.control else ("",)
    return re.sub("^It ", lambda _: f"{wording.isolate(found.fan)} ", sentences[0])


def _bounded(number: Number, words: str) -> str:
    """The words of a value that is a bound: "at most 52 dBA (28 to 75)"."""
    return f"{number.bound.value} {words}" if number.bound in (Bound.AT_LEAST, Bound.AT_MOST) else words


def _shown(number: Number, units: dict[str, str]) -> tuple[str, tuple[float, float, float]]:
    """The unit shown, and value, low and high in it."""
    unit = shown_unit(BY_NAME[number.measure.quantity], units)
    told = (number.value or 0.0, number.low or 0.0, number.high or 0.0)
    value, low, high = (from_si(each, unit) for each in told)
    return unit, (value, low, high)


def _common(numbers: Sequence[Number]) -> tuple[str, ...]:
    """The marks that stand beside every number that is known."""
    known = [each for each in numbers if each.value is not None]
    first = known[0].marks if len(known) > 1 else ()
    return tuple(mark for mark in first if all(mark in each.marks for each in known))


def _numbers_table(found: Answer, units: dict[str, str], common: Sequence[str]) -> Table:
    headers = ("quantity", "value", "unit", "95 % interval", "how", "basis", "marks", "key")
    distance = str(found.conditions.get("distance") or "")
    rows = (_row(each, units, common, distance) for each in found.numbers if each.value is not None)
    return Table(headers, tuple(rows), right=(1,))


def _row(each: Number, units: dict[str, str], common: Sequence[str], distance: str) -> tuple[str, ...]:
    unit_shown, (value, low, high) = _shown(each, units)
    unit = unit_shown
    unit += f" at {distance}" if each.measure.origin is Origin.SOUND and distance else ""
    places = wording.places_for((high - low) / 2) if high > low else 1
    interval = f"{wording.number(low, places)} to {wording.number(high, places)}"
    basis = f"{wording.plural(each.samples, 'sample')}, {wording.plural(each.mountings, 'mounting')}"
    said = wording.number(value, places)
    if each.ends is not None:
        said = both_ends(from_si(each.ends[0], unit_shown), from_si(each.ends[1], unit_shown), places)
    said = f"{each.bound.value} {said}" if each.bound in (Bound.AT_LEAST, Bound.AT_MOST) else said
    marks = ", ".join(mark for mark in each.marks if mark not in common)
    return (each.measure.title, said, unit, interval, each.how.value, basis, marks, each.key[:10])


def _noise_table(row: AtNoise) -> Table:
    """A fan at a noise limit: both speeds, bands to avoid, level, loudness, tones and the setting."""
    at = f"at {row.limit.partition(' at ')[2]}"
    told = {
        "speed that the limit allows": f"{speed_words(row)} ({interval_words(row)})",
        "highest speed at or under the limit": _speed(row.highest),
        "speed up to which it is never exceeded": _speed(row.strict),
        "avoid, above the limit": avoid_words(row),
        "setting": f"{setting_cell(row)}, {row.setting.way}" if row.setting else setting_cell(row),
        "level there": f"{'at most ' if row.is_bound else ''}{_told(row.level, f'dBA {at}')}",
        "loudness there": _told(row.loudness, f"sone {at}"),
        "prominent tones there": ", ".join(f"{each.frequency:.0f} Hz ({each.origin})" for each in row.tones),
        "sound measured": f"with {row.obstacle} mounted" if row.obstacle else "in free air",
    }
    return Table(("", ""), tuple((name, words) for name, words in told.items() if words))


def _speed(speed: float | None) -> str:
    return "" if speed is None else speed_in_words(speed)


def _told(spread: tuple[float, float, float] | None, unit: str) -> str:
    return "" if spread is None else wording.with_interval(*spread, unit)


QUANTITIES = {
    "flow": "flow",
    "pressure": "static_pressure",
    "speed": "speed",
    "power": "power",
    "efficiency": "static_efficiency",
}


def _points_table(points: Sequence[Point], units: dict[str, str]) -> Table:
    there = [name for name in QUANTITIES if all(name in point.values for point in points)]
    shown = {name: shown_unit(BY_NAME[QUANTITIES[name]], units) for name in there}
    headers = (*(f"{name} [{unit}]" for name, unit in shown.items()), "kind", "in trials", "mountings")
    rows = []
    for point in points:
        cells = []
        for name, unit in shown.items():
            value, low, high = (from_si(each, unit) for each in point.values[name])
            cells.append(wording.with_interval(value, low, high, ""))
        rows.append((*cells, _kind(point), f"{point.share:.0%}", str(point.mountings)))
    return Table(headers, tuple(rows))


def _kind(point: Point) -> str:
    word = wording.UNIQUE_WORD if point.stable else wording.UNSTABLE_WORD
    return f"{word}, on a rising branch" if point.rising else word


def _data(found: Answer, units: dict[str, str]) -> dict[str, object]:
    """The documented JSON of an answer, in the units that the lab shows."""
    return {
        "schema": SCHEMA,
        "fan": found.fan,
        "conditions": dict(found.conditions),
        "numbers": [_number_data(each, units) for each in found.numbers],
        "points": [_point_data(each, units) for each in found.points],
        "noise": row_data(found.noise) if found.noise else None,
        "heat": [heat_data(each, units) for each in found.heat],
        "control": control_data(found.control, units),
    }


def _number_data(each: Number, units: dict[str, str]) -> dict[str, object]:
    unit, (value, low, high) = _shown(each, units)
    known = each.value is not None
    return {
        "measure": each.measure.name,
        "title": each.measure.title,
        "version": str(each.measure.version),
        "unit": unit,
        "value": value if known else None,
        "low": low if known else None,
        "high": high if known else None,
        "bound": each.bound.value,
        "ends": [from_si(end, unit) for end in each.ends] if each.ends else None,
        "how": each.how.value,
        "samples": each.samples,
        "mountings": each.mountings,
        "marks": list(each.marks),
        "key": each.key,
        "why": each.why,
        "left_out": [{"mounting": name, "why": why} for name, why in each.left_out],
    }


def _point_data(point: Point, units: dict[str, str]) -> dict[str, object]:
    values: dict[str, object] = {}
    for name, told in point.values.items():
        unit = shown_unit(BY_NAME[QUANTITIES[name]], units)
        value, low, high = (from_si(each, unit) for each in told)
        values[name] = {"value": value, "low": low, "high": high, "unit": unit}
    return {
        **values,
        "stable": point.stable,
        "rising": point.rising,
        "share": point.share,
        "mountings": point.mountings,
    }
