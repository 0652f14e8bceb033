"""Fans in order under one condition, from the lab's records: who takes part, who can't, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.compare.candidates import Excluded, LegacyNumber, Margin, MarginKind
from stillroom.compare.ranking import rank
from stillroom.compare.standing import Ranking
from stillroom.core.room_air import STANDARD_AIR
from stillroom.core.speeds import setting_words
from stillroom.core.spread import MountingValue, PooledSpread, Spreads, pooled_spreads
from stillroom.core.systems import System
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab import legacy, versions
from stillroom.lab.book import Book
from stillroom.lab.bridges import Bridging, bring_over
from stillroom.lab.executor import Progress, silent
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.lab.through import Through, through_of
from stillroom.lab.valuing import FanCase, Question, fan_case, mounting_values
from stillroom.lab.watch_facts import unchecked
from stillroom.measures import Condition, Measure, system_marks
from stillroom.records.acts import Spread
from stillroom.records.fields import as_json
from stillroom.store import results
from stillroom.store.journal import Note
from stillroom.store.lab import Lab, now
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME

MOUNTED = "measured with the obstacle mounted"


@dataclass(frozen=True)
class Asked:
    """A ranking that is asked for. `size` in m, None for the size that most fans have."""

    measure: Measure
    condition: Condition
    size: float | None = None
    only: tuple[str, ...] = ()


@dataclass(frozen=True)
class Field:
    """Who takes part: the nodes of each fan, the fans that can't, the question put to each, and the legacy
    numbers of fans that have nothing else.
    """

    question: Question
    nodes: Mapping[str, tuple[CurveNode, ...]]
    excluded: tuple[Excluded, ...]
    size: float | None
    legacy: tuple[LegacyNumber, ...] = ()


def field_of(book: Book, graph: Graph, asked: Asked) -> Field:
    """Who takes part in a ranking.

    Raises
    ------
    UnknownThing : an obstacle or a fan that the lab doesn't know.
    NotPossible : a measure that needs an obstacle without one.
    """
    before = {each.fan for each in book.legacy.values() if each.measure == asked.measure.name}
    names = sorted({each.fan for each in graph.mountings()} | set(book.fans) | before)
    unknown = [each for each in asked.only if each not in names]
    if unknown:
        raise UnknownThing("fan", found=repr(unknown[0]), expected=", ".join(names) or "a fan of the lab")
    through = _through(book, graph, asked)
    wanted = {name: _nodes(graph, name, through.mounted) for name in names}
    size = asked.size or _usual_size(book, [name for name in names if wanted[name]])
    taking: dict[str, tuple[CurveNode, ...]] = {}
    excluded: list[Excluded] = []
    numbers: list[LegacyNumber] = []
    for name in names:
        why = _why_not(book, name, asked, size)
        if not why and wanted[name]:
            taking[name] = wanted[name]
            continue
        number = None if why else legacy.standing(book, asked.measure, asked.condition, name)
        if isinstance(number, LegacyNumber):
            numbers.append(number)
        else:
            excluded.append(Excluded(name, why or number or "no run that can be used"))
    question = Question(asked.measure, asked.condition, through)
    return Field(question, taking, tuple(excluded), size, tuple(numbers))


def _through(book: Book, graph: Graph, asked: Asked) -> Through:
    """What the air goes through, provided that the measure and the system fit it."""
    text, measure, system = asked.condition.obstacle, asked.measure, asked.condition.system
    if measure.through and not text:
        known = sorted({each.obstacle for each in graph.curves if each.obstacle})
        raise NotPossible(
            f"measure {measure.name}",
            found="no obstacle",
            expected=f"--through with one of {', '.join(known)}, or a resistance such as '20 Pa at 60 m³/h'",
        )
    if text and not measure.through:
        raise NotPossible(f"measure {measure.name}", found=f"--through {text}", expected="no obstacle")
    if measure.quantity == "speed" and asked.condition.speed is not None:
        raise NotPossible(f"measure {measure.name}", found="a given speed", expected="a setting")
    through = through_of(book, graph, text)
    if system.tiles != 1.0 and not (through.stacks or measure.crosses):
        where = f"fans measured with {through.mounted} mounted" if through.mounted else "no obstacle"
        raise NotPossible("--tiles", found=where, expected="an obstacle with a resistance of its own")
    if system.push_pull is not None and through.mounted:
        raise NotPossible("--push-pull", found=f"fans measured with {through.mounted} mounted",
                          expected="an obstacle with a resistance of its own")  # fmt: skip
    return through


def _nodes(graph: Graph, fan: str, obstacle: str) -> tuple[CurveNode, ...]:
    return tuple(each for each in graph.mountings(fan) if each.fan == fan and each.obstacle == obstacle)


def _usual_size(book: Book, fans: Sequence[str]) -> float | None:
    sizes = Counter(book.fans[name].size for name in fans if name in book.fans and book.fans[name].size)
    return sizes.most_common(1)[0][0] if sizes else None


def _why_not(book: Book, fan: str, asked: Asked, size: float | None) -> str:
    """Why a fan takes no part whatever it has, or ""."""
    if asked.only and fan not in asked.only:
        return "not asked for"
    record = book.fans.get(fan)
    if record is not None and record.size and size and abs(record.size - size) > 5e-4:
        return f"{record.size * 1000:.0f} mm, not {size * 1000:.0f} mm"
    return ""


def rank_fans(
    lab: Lab,
    book: Book,
    graph: Graph,
    asked: Asked,
    *,
    blocked: Mapping[str, str] | None = None,
    progress: Progress = silent,
    workers: int = 0,
) -> Ranking:
    """Put the fans in order, keep what was worked out, and agree on the spread where none was agreed.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings that block; their fans are marked and lend no spread.
    """
    field = field_of(book, graph, asked)
    nodes = [each for group in field.nodes.values() for each in group]
    values = mounting_values(lab, field.question, nodes, progress=progress, workers=workers)
    bridging = brought_over(lab, book, graph, field, values, blocked or {})
    cases, failed = fan_cases(lab, book, field, values, blocked or {}, bridging, agree=not asked.only)
    numbers = {each.fan for each in field.legacy}
    told = [legacy.kept(each) for each in book.legacy.values() if each.fan in numbers]
    lab.put_results([*bridging.made, *told, *(each.kept for each in cases)])
    hidden = [each for each in field.excluded if each.why != "not asked for"]
    return rank(
        [each.candidate for each in cases],
        measure=asked.measure.name,
        definition=asked.measure.definition.replace("1.2 kg/m³", density_words(asked.condition.system)),
        version=str(asked.measure.version),
        unit=BY_NAME[asked.measure.quantity].unit,
        conditions=conditions_of(book, asked, field) | bridging.conditions,
        margin=Margin(book.settings.margins[asked.measure.name], MarginKind.RELATIVE),
        merit=asked.measure.merit,
        excluded=(*hidden, *failed),
        legacy=field.legacy,
        bridges=bridging.notes,
    )


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
    record = versions.record_of(book.obstacles, through.words)
    way = MOUNTED if through.mounted else "fan and obstacle measured apart" if through.nodes else None
    always: dict[str, str | int | float | bool | None] = {
        "speed": speed_words(condition),
        "obstacle": condition.obstacle or None,
        "obstacle version": record.version if record else None,
        "way": "resistance stated" if through.stacks and not through.nodes else way,
        "density": density_words(system),
        "size": f"{field.size * 1000:.0f} mm" if field.size else None,
    }
    told = {
        "through": through.words if len(through.terms) > 1 else None,
        "obstacle side": record.side if record else None,
        "fans side by side": system.beside if system.beside > 1 else None,
        "tiles": system.tiles if system.tiles != 1.0 else None,
        "push–pull factor": system.push_pull,
        "push–pull factor u": system.push_pull_u or None,
        "altitude": None if system.altitude is None else f"{system.altitude:.0f} m",
        "air temperature": None if system.temperature is None else f"{system.temperature - 273.15:.1f} °C",
        "modelled": ", ".join((*system_marks(system), *through.marks)).replace("modelled for ", "") or None,
    }
    return always | {name: value for name, value in told.items() if value is not None}


def speed_words(condition: Condition) -> str:
    """The setting or speed in words, as after "at": "full setting", "1500 rpm", "40 % duty", "7 V"."""
    if condition.speed is not None:
        return f"{condition.speed * 60:.0f} rpm"
    if condition.duty is not None:
        return f"{setting_words('duty', condition.duty)} duty"
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
    *,
    agree: bool,
) -> tuple[list[FanCase], list[Excluded]]:
    """The fans with a value, and why others have none.

    Parameters
    ----------
    bridging : how their mountings come into one era. agree : whether a spread may be agreed from them.
    """
    spreads = spreads_of(lab, book, field, values, blocked, bridging, agree=agree)
    cases: list[FanCase] = []
    failed: list[Excluded] = []
    for fan, whole in field.nodes.items():
        group = [node for node in whole if node.subject not in bridging.unbridged]
        if all(values[node.subject].failed for node in group):
            first = (group or whole)[0].subject
            failed.append(Excluded(fan, bridging.unbridged.get(first) or values[first].failed))
            continue
        marks = dict.fromkeys(_marks(lab, book, fan, group, values, blocked))
        marks |= dict.fromkeys(_tile_marks(book, field.question.through, fan))
        marks |= dict.fromkeys(bridging.said_of(whole))
        marks |= dict.fromkeys(legacy.remarks(book, field.question.measure, field.question.condition, fan))
        cases.append(fan_case(lab, field.question, fan, group, values, spreads, marks, bridging.carried))
    return cases, failed


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


def spreads_of(
    lab: Lab,
    book: Book,
    field: Field,
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
    bridging: Bridging,
    *,
    agree: bool,
) -> Spreads:
    """The agreed spread of such values; agreed now, and dated, where there is none, all fans take part and
    nothing is blocked.
    """
    name = field.question.spread_name
    agreed = book.spreads.get(name)
    if agreed is not None:
        return Spreads(
            PooledSpread.agreed(agreed.mounting, agreed.mounting_dof),
            PooledSpread.agreed(agreed.sample, agreed.sample_dof),
        )
    taking = (each for group in field.nodes.values() for each in group)
    nodes = [each for each in taking if each.subject not in bridging.unbridged]
    sound = [n for n in nodes if n.subject not in blocked and not values[n.subject].failed]
    spreads = pooled_spreads(
        MountingValue(
            n.fan,
            n.sample,
            n.subject,
            float(values[n.subject].body["value"]) * bridging.carried.ratio(n.subject),
        )
        for n in sound
    )
    if agree and len(sound) == len(nodes) and spreads.mounting.data_dof > 0:
        fans = len({each.fan for each in sound})
        lab.write([_spread_note(name, spreads, fans)])
    return spreads


def _spread_note(name: str, spreads: Spreads, fans: int) -> Note:
    record = Spread(
        measure=name,
        date=now()[:10],
        mounting=spreads.mounting.sd,
        mounting_dof=spreads.mounting.dof,
        sample=spreads.sample.sd,
        sample_dof=spreads.sample.dof,
        fans=fans,
    )
    return Note(Spread.kind, record.name, as_json(record))
