"""What one fan does under one condition: every number with its interval, its way and its key."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stillroom.compare.candidates import How
from stillroom.errors import UnknownThing
from stillroom.lab.airflow.answering import AT_POINT, Combining, Point, by_airflow, points_of
from stillroom.lab.answered import Answered, Case
from stillroom.lab.book import Book
from stillroom.lab.cases import conditions_of
from stillroom.lab.control.asking import ControlOfFan, control_of
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked, Field
from stillroom.lab.heat.asking import HeatOnRig, heat_of
from stillroom.lab.heat.ranking import heat_answer, is_by_heat
from stillroom.lab.numbers import Number, number_of
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.ranking import sound_cases
from stillroom.lab.sound.set_list import AtNoise, at_noise
from stillroom.lab.system_words import Plain
from stillroom.lab.through import through_of
from stillroom.measures import Condition, Measure, Origin, as_asked, measure_named
from stillroom.measures.sound import LEVEL, LIMITED_SPEED, LOUDNESS, SHARPNESS
from stillroom.store.lab import Lab

THROUGH = (*AT_POINT.values(), "pressure-to-spare")
FREE = ("free-airflow", "free-speed", "free-power", "maximum-pressure", "air-power", "static-efficiency",
        "load-line")  # fmt: skip

NO_AIRFLOW = "no airflow measured that can be used"


@dataclass(frozen=True)
class Answer:
    """What was asked of one fan.

    Parameters
    ----------
    fan, conditions : of whom, under what. numbers : at the operating point, or of the whole curve.
    points : every operating point from the greatest flow down, where there is more than one.
    noise : the fan at the noise limit, where one is asked for. heat : the fan on the heat rigs on which it was run.
    control : how it answers its control, where that was tested.
    """

    fan: str
    conditions: Mapping[str, Plain]
    numbers: tuple[Number, ...]
    points: tuple[Point, ...]
    noise: AtNoise | None = None
    heat: tuple[HeatOnRig, ...] = ()
    control: ControlOfFan | None = None


def answer(
    lab: Lab,
    book: Book,
    graph: Graph,
    fan: str,
    condition: Condition,
    *,
    blocked: Mapping[str, str] | None = None,
    progress: Progress = silent,
) -> Answer:
    """Answer for one fan, its mountings combined as in a ranking.

    Spreads are those that rankings have agreed; where none is, those of this fan with what is assumed.

    Raises
    ------
    UnknownThing : no such fan or obstacle. NotPossible : a system that can't be made of what was measured.
    """
    record = book.fans.get(fan)
    sounds = Sounds(lab, book, graph)
    names = sorted(graph.fans | set(book.fans))
    if fan not in names:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(names) or "a fan of the lab")
    size = record.size if record else None
    heat = heat_of(sounds, fan, condition, blocked or {})
    control = control_of(lab, book, graph, fan, condition, blocked or {})
    condition = replace(condition, rig=condition.rig if condition.for_heat is not None else "")
    numbers: list[Number] = []
    taken: dict[str, Combining] = {}
    fields: list[Field] = []
    eras: dict[str, Plain] = {}
    heard: dict[str, Plain] = {}
    for measure in _measures(graph, fan, condition):
        name = measure.name
        asked = Asked(as_asked(measure, condition), condition, size, (fan,))
        if not _isby_airflow(asked):
            number, conditions = _of_another_room(sounds, asked, fan, blocked or {}, progress)
            numbers.append(number)
            heard |= conditions
            continue
        found = by_airflow(sounds, asked, fan, blocked or {}, progress)
        is_gone = found.number.value is None and not graph.mountings(fan)
        numbers.append(replace(found.number, why=NO_AIRFLOW) if is_gone else found.number)
        fields.append(found.field)
        eras |= found.eras
        if found.taken is not None:
            taken[name] = found.taken
    noise = None
    if condition.is_limited:
        noise = at_noise(sounds, fan, through_of(book, graph, condition.obstacle), condition)
    several = any("not unique" in each.marks for each in numbers if each.measure.name == "airflow")
    points = points_of(lab, fields[0].question, taken) if several else ()
    told = conditions_of(book, Asked(measure_named(THROUGH[0]), condition, size), fields[0]) if fields else {}
    return Answer(fan, heard | told | eras, tuple(numbers), points, noise, heat, control)


def _measures(graph: Graph, fan: str, condition: Condition) -> list[Measure]:
    """What is answered: at the operating point, or of the whole curve, and of sound where there is any; a given speed
    isn't answered.
    """
    system = condition.system
    of_curve: tuple[str, ...] = THROUGH if condition.obstacle else FREE
    needed = condition.for_flow is not None or condition.for_heat is not None
    if needed:
        of_curve = ("needed-speed",)
    of_sound: tuple[str, ...] = (LIMITED_SPEED if condition.is_limited else LEVEL, LOUDNESS, SHARPNESS)
    if needed or system.beside > 1 or system.push_pull is not None:
        of_sound = of_sound[:1]
    if not graph.sounding(fan) and not condition.is_limited:
        of_sound = ()
    elif graph.sounding(fan) and not graph.mountings(fan) and condition.for_heat is None:
        of_curve = ()
    measures = [measure_named(name) for name in (*of_curve, *of_sound)]
    return [each for each in measures if condition.speed is None or each.quantity != "speed"]


def _isby_airflow(asked: Asked) -> bool:
    return asked.measure.origin not in (Origin.SOUND, Origin.LIMIT) and not is_by_heat(asked)


def _of_another_room(
    sounds: Sounds, asked: Asked, fan: str, blocked: Mapping[str, str], progress: Progress
) -> tuple[Number, dict[str, Plain]]:
    """A number of sound or of heat, kept, and under what it holds."""
    if is_by_heat(asked):
        by_heat = heat_answer(sounds, asked, blocked)
        sounds.lab.put_results([each.kept for each in by_heat.cases])
        left = tuple(by_heat.by.not_used.get(fan, ()))
        return _number(asked.measure, by_heat, fan, left), by_heat.conditions
    by_sound = sound_cases(sounds, asked, blocked, progress, 1)
    sounds.lab.put_results([each.kept for each in by_sound.cases])
    return _number(asked.measure, by_sound, fan), by_sound.conditions


def _number(
    measure: Measure, found: Answered[Case], fan: str, left_out: tuple[tuple[str, str], ...] = ()
) -> Number:
    if found.cases:
        return replace(number_of(measure, found.cases[0].candidate), left_out=left_out)
    return Number(measure, None, None, None, How.UNKNOWN, why=found.why(fan), left_out=left_out)
