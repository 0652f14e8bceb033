"""What a comparison is made of: its fans with their values, what is said beside them, and its conditions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from stillroom.compare.candidates import Excluded, Margin, MarginKind
from stillroom.core.room_air import STANDARD_AIR
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.core.speeds import setting_words
from stillroom.core.spread import Spreads
from stillroom.core.systems import System
from stillroom.lab import legacy, versions
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.eras.bridges import Bridging, bring_over
from stillroom.lab.eras.watch_facts import unchecked
from stillroom.lab.field import Asked, Field
from stillroom.lab.question import AtLimit
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.level_words import limit_words
from stillroom.lab.sound.nodes import blocked_as
from stillroom.lab.spreads import spreads_of
from stillroom.lab.system_words import system_told
from stillroom.lab.through import Through
from stillroom.lab.valuing import FanCase, fan_case
from stillroom.measures import Condition, Measure, system_marks
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

MOUNTED = "measured with the obstacle mounted"


def margin_of(book: Book, measure: Measure) -> Margin:
    """The practical margin of a measure: a share, or in its unit."""
    kind = MarginKind.ABSOLUTE if measure.absolute else MarginKind.RELATIVE
    return Margin(book.settings.margins[measure.name], kind)


def with_margin(book: Book, measure: Measure, margin: Margin) -> Book:
    """The book of a lab that takes another margin for a measure: one that was registered for what is asked."""
    margins = book.settings.margins | {measure.name: margin.size}
    return replace(book, settings=replace(book.settings, margins=margins))


def brought_over(
    lab: Lab,
    book: Book,
    graph: Graph,
    field: Field,
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
) -> Bridging:
    """How the mountings of a field come into one era of their rigs, and which lean on no check of the rig."""
    nodes = [each for group in field.nodes.values() for each in group]
    found = bring_over(lab, book, graph, field.question, nodes, values, blocked=blocked)
    return replace(found, unchecked=unchecked(lab, book, graph, blocked))


def conditions_of(book: Book, asked: Asked, field: Field) -> dict[str, str | int | float | bool | None]:
    """Under what the fans were compared; what wasn't told is left out, but for what always stands there."""
    condition, system, through = asked.condition, asked.condition.system, field.question.through
    limit = field.question.at_limit
    record = versions.record_of(book.obstacles, through.words)
    way = MOUNTED if through.mounted else "fan and obstacle measured apart" if through.nodes else None
    always: dict[str, str | int | float | bool | None] = {
        "speed": speed_words(condition, limit.geometry if limit else None),
        "obstacle": condition.obstacle or None,
        "obstacle version": record.version if record else None,
        "way": "resistance stated" if through.stacks and not through.nodes else way,
        "density": density_words(system),
        "size": f"{field.size * 1000:.0f} mm" if field.size else None,
    }
    told = {
        "through": through.words if len(through.terms) > 1 else None,
        "obstacle side": record.side if record else None,
        **system_told(system),
        "modelled": ", ".join((*system_marks(system), *through.marks)).replace("modelled for ", "") or None,
        **(limit.conditions if limit else {}),
    }
    return always | {name: value for name, value in told.items() if value is not None}


def speed_words(condition: Condition, geometry: Geometry | None = None) -> str:
    """The setting or speed in words, as after "at": "full setting", "1,500 rpm", "40 % duty", "7 V",
    "35 dBA at 0.5 m", "the speed for 60 m³/h".
    """
    if condition.speed is not None:
        return f"{condition.speed * 60:,.0f} rpm"
    if condition.duty is not None:
        return f"{setting_words('duty', condition.duty)} duty"
    if condition.is_limited:
        return limit_words(condition, geometry)
    if condition.for_flow is not None:
        return f"the speed for {condition.for_flow * 3600:.4g} m³/h"
    if condition.for_heat is not None:
        return f"the speed for {condition.for_heat:.4g} K"
    return "full setting" if condition.volts is None else setting_words("volts", condition.volts)


def density_words(system: System) -> str:
    """The density in words."""
    air = system.air
    return "1.2 kg/m³" if air == STANDARD_AIR else f"{air.density:.3g} kg/m³"


def fan_cases(
    lab: Lab,
    book: Book,
    field: Field,
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
    bridging: Bridging,
    spreads: Spreads | None = None,
) -> tuple[list[FanCase], list[Excluded]]:
    """The fans with a value, and why others have none.

    Parameters
    ----------
    bridging : how their mountings come into one era. spreads : of a larger field; of this one where None.
    """
    spreads = spreads or spreads_of(book, field, values, blocked, bridging)
    cases: list[FanCase] = []
    failed: list[Excluded] = []
    for fan, whole in field.nodes.items():
        group = [node for node in whole if node.subject not in bridging.unbridged]
        if all(values[node.subject].failed for node in group):
            first = (group or whole)[0].subject
            why = bridging.unbridged.get(first) or values[first].failed
            failed.append(Excluded(fan, why, measured=True))
            continue
        marks = dict.fromkeys(_marks(lab, book, fan, group, values, blocked))
        marks |= dict.fromkeys(_sound_marks(field.question.at_limit, fan, blocked, bridging.unchecked))
        marks |= dict.fromkeys(_tile_marks(book, field.question.through, fan))
        marks |= dict.fromkeys(bridging.said_of(whole))
        marks |= dict.fromkeys(legacy.remarks(book, field.question.measure, field.question.condition, fan))
        cases.append(fan_case(lab, field.question, fan, group, values, spreads, marks, bridging.carried))
    return cases, failed


def _sound_marks(
    limit: AtLimit | None, fan: str, blocked: Mapping[str, str], unchecked: Mapping[str, str]
) -> Iterable[str]:
    """An open finding of the sound that tells a fan's speed at a noise limit, or a room that nothing checked."""
    if limit is None or fan not in limit.limits:
        return
    names = [blocked_as(each) for each in limit.limits[fan].inputs["sounds"]]
    if any(each in blocked for each in names):
        yield "open finding"
    yield from (unchecked[each] for each in names if each in unchecked)


def _tile_marks(book: Book, through: Through, fan: str) -> Iterable[str]:
    """Obstacles that were measured on a piece of another size than the fan."""
    record = book.fans.get(fan)
    for node in through.nodes:
        told = versions.record_of(book.obstacles, node.subject)
        if record and record.size and told and told.tile_size and abs(told.tile_size - record.size) > 5e-4:
            yield f"{node.subject} measured on a piece of {told.tile_size * 1000:.0f} mm"


def _marks_of_runs(lab: Lab, group: Sequence[CurveNode]) -> Iterable[str]:
    """What was assumed when the runs were reduced, and sweeps that the fit left out."""
    for node in group:
        result = results.get(lab.database, node.key)
        if result is None or result.failed:
            continue
        for run in result.body["runs"]:
            yield from run["marks"]
        if any(each["dropped"] for each in result.body["curve"]["sweeps"]):
            yield "a sweep was left out of the fit"


def _marks(
    lab: Lab,
    book: Book,
    fan: str,
    group: Sequence[CurveNode],
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
) -> Iterable[str]:
    """What must be said beside a fan's number."""
    if any(node.subject in blocked for node in group):
        yield "open finding"
    if any(values[node.subject].failed for node in group):
        yield "a mounting could not be used"
    yield from _marks_of_runs(lab, group)
    if any(not run.placed.registered for node in group for run in node.runs):
        yield "sample not registered"
    if any(run.bench.accuracy is not None for node in group for run in node.runs):
        yield "stated bench accuracy"
    if fan not in book.fans:
        yield "fan not described"
    words = {run.placed.setting_word for node in group for run in node.runs}
    top = group[0].top
    if top is not None and top < 0.995 and any(each.endswith("%") for each in words):
        yield f"greatest setting was {100 * top:.0f} %"
