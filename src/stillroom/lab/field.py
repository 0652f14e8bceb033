"""Who takes part in a comparison: what is asked, the mountings of each fan, and why others can't."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from stillroom.compare.candidates import Excluded, LegacyNumber
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab import legacy
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.purposes import Purpose
from stillroom.lab.question import Question
from stillroom.lab.recipes import Graph
from stillroom.lab.through import Through, through_of
from stillroom.measures import Condition, Measure, Origin


@dataclass(frozen=True)
class Asked:
    """A ranking that is asked for. `size` in m, None for the size that most fans have."""

    measure: Measure
    condition: Condition
    size: float | None = None
    only: tuple[str, ...] = ()

    def wants(self, fan: str) -> bool:
        """Whether a fan is asked for: all are where none is named."""
        return not self.only or fan in self.only


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


def as_written(book: Book, graph: Graph, fans: Sequence[str]) -> tuple[str, ...]:
    """Names of fans as the lab writes them, whatever their case; one that it doesn't know, or knows twice, as told."""
    known = graph.fans | set(book.fans) | {each.fan for each in book.legacy.values()}
    return tuple(written_among(known, each) for each in fans)


def written_among(known: Collection[str], fan: str) -> str:
    """A fan's name as it is among the known ones, whatever its case; as told where none fits, or several do."""
    same = [one for one in known if one.casefold() == fan.strip().casefold()]
    return fan if fan in known or len(same) != 1 else same[0]


def field_of(book: Book, graph: Graph, asked: Asked) -> Field:
    """Who takes part in a ranking.

    Raises
    ------
    UnknownThing : an obstacle or a fan that the lab doesn't know.
    NotPossible : a measure that needs an obstacle without one.
    """
    before = {each.fan for each in book.legacy.values() if each.measure == asked.measure.name}
    names = sorted(graph.fans | set(book.fans) | before)
    unknown = [each for each in asked.only if each not in names]
    if unknown:
        raise UnknownThing("fan", found=repr(unknown[0]), expected=", ".join(names) or "a fan of the lab")
    through = _through(book, graph, asked)
    wanted = {name: _nodes(graph, name, through.mounted) for name in names}
    size = asked.size or usual_size(book, [name for name in names if wanted[name]])
    taking: dict[str, tuple[CurveNode, ...]] = {}
    excluded: list[Excluded] = []
    numbers: list[LegacyNumber] = []
    for name in filter(asked.wants, names):
        why = why_not(book, name, size)
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
    _refuse_untaken(asked)
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


def _refuse_untaken(asked: Asked) -> None:
    """An airflow that is needed belongs to the measures that are taken at it."""
    is_needed, told = asked.measure.origin is Origin.NEEDED, asked.condition.for_flow is not None
    if is_needed and not told:
        raise NotPossible(
            f"measure {asked.measure.name}",
            found="no airflow",
            expected="--for-flow, such as '60 m³/h', or --for-heat",
        )
    if asked.condition.for_heat is not None or asked.condition.rig:
        raise NotPossible(
            f"measure {asked.measure.name}",
            found="--for-heat" if asked.condition.for_heat is not None else f"--rig {asked.condition.rig}",
            expected="a measure of heat; with --for-heat also level, loudness or needed-speed",
        )
    if told and not is_needed:
        raise NotPossible(
            f"measure {asked.measure.name}", found="--for-flow", expected="level, loudness or needed-speed"
        )


def _nodes(graph: Graph, fan: str, obstacle: str) -> tuple[CurveNode, ...]:
    return tuple(each for each in graph.mountings(fan) if each.fan == fan and each.obstacle == obstacle)


def usual_size(book: Book, fans: Sequence[str]) -> float | None:
    """The size that most of some fans have [m]; None where none is told."""
    sizes = Counter(book.fans[name].size for name in fans if name in book.fans and book.fans[name].size)
    return sizes.most_common(1)[0][0] if sizes else None


def why_not(book: Book, fan: str, size: float | None) -> str:
    """Why a fan takes no part whatever it has, or "": it is of another size."""
    record = book.fans.get(fan)
    if record is not None and record.size and size and abs(record.size - size) > 5e-4:
        return f"{record.size * 1000:.0f} mm, not {size * 1000:.0f} mm"
    return ""


def rests_on(asked: Asked) -> set[Purpose]:
    """What the numbers of a ranking rest on."""
    measure, condition = asked.measure, asked.condition
    if measure.origin is Origin.CONTROL:
        first = Purpose.CONTROL
    elif measure.origin is Origin.HEAT or condition.for_heat is not None:
        first = Purpose.HEAT
    else:
        first = Purpose.AIRFLOW
    by_sound = condition.is_limited or measure.origin in (Origin.SOUND, Origin.LIMIT)
    return {first, Purpose.SOUND} if by_sound else {first}
