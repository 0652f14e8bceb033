"""The claims of a lab's boxes, each checked by what the lab measured under the same condition."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.compare.claims import ClaimCheck, Measured, check, not_checkable
from stillroom.compare.printed import Place, Printed, Subject, read_printed, subject_of
from stillroom.core.intervals import coverage_interval
from stillroom.errors import StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.cases import brought_over, fan_cases
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked, field_of
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.box_levels import box_levels, by_volts, unlike_distance, unlike_level
from stillroom.lab.sound.comparable import comparable
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.spreads import spread_to_agree_on, spreads_of
from stillroom.lab.valuing import FanCase, mounting_values
from stillroom.measures import Condition, measure_named
from stillroom.measures.sound import LEVEL
from stillroom.records.products import Claim
from stillroom.store.lab import Lab
from stillroom.vocabulary import is_unit, to_si, unit

RATED = 12.0
"""Supply at which 4-wire and 3-wire computer fans are rated, and at which duty is set [V]
(4-Wire Pulse Width Modulation Controlled Fans Specification)."""

SAME = 0.01
"""Settings this near to each other are the same [1]."""

_PLACES = {
    Subject.AIRFLOW: Place.FREE,
    Subject.PRESSURE: Place.SHUT,
    Subject.SPEED: Place.FREE,
    Subject.POWER: Place.FREE,
}


@dataclass(frozen=True)
class _Likeness:
    """A claim made ready: what answers it under which condition, or why nothing can, and whether that is for the
    condition that the box prints.
    """

    claim: Claim
    title: str
    value: float
    tolerance: float
    measure: str = ""
    condition: Condition = Condition()
    why: str = ""
    unlike: bool = False


def check_claims(
    lab: Lab,
    book: Book,
    graph: Graph,
    *,
    only: Sequence[str] = (),
    blocked: Mapping[str, str] | None = None,
    progress: Progress = silent,
    keep: bool = True,
) -> tuple[ClaimCheck, ...]:
    """Every claim of the book with its verdict, in the book's order.

    A claim is checked only under the condition that the box prints: quantity, place on the curve and setting
    must be told, and all of its words understood; of a level the distance, too, which must be the lab's own. The
    value is the fan's own (mean over samples of means over mountings), with the uncertainty of its ranking;
    mountings that an open finding blocks are left out.

    Parameters
    ----------
    only : only these fans; all where empty. blocked : as for `rank_fans`.
    keep : whether the fans' numbers are kept as shown, so that their keys can be followed.
    """
    claims = [each for each in book.claims.values() if not only or each.fan in only]
    ready = [_ready(book, graph, each) for each in claims]
    found = _measured(lab, book, graph, [each for each in ready if not each.why], blocked or {}, progress,
                      keep=keep)  # fmt: skip
    return tuple(_checked(each, found) for each in ready)


def uncheckable_claims(book: Book, graph: Graph, fans: Collection[str]) -> tuple[ClaimCheck, ...]:
    """The claims of some fans that can't be checked whatever is measured, with why; nothing is worked out."""
    ready = (_ready(book, graph, each) for each in book.claims.values() if each.fan in fans)
    return tuple(_checked(each, {}) for each in ready if each.why)


# --- what a claim asks -----------------------------------------------------------------------------------


def _ready(book: Book, graph: Graph, claim: Claim) -> _Likeness:
    named = subject_of(claim.quantity)
    printed = read_printed(claim.condition or "")
    tolerance = claim.tolerance if claim.tolerance is not None else printed.tolerance or 0.0
    bare = not claim.condition
    if named is None:
        why = "quantity not known"
        return _Likeness(claim, claim.quantity, claim.value, tolerance, why=why, unlike=bare)
    subject, place = named
    if subject is Subject.NOISE:
        return _level_ready(book, graph, claim, printed)
    if not is_unit(claim.unit) or unit(claim.unit).dimension != subject.dimension:
        why = (
            f"{subject.title} isn’t measured yet" if not subject.measure else f"unit {claim.unit!r} not known"
        )
        return _Likeness(claim, subject.title, claim.value, tolerance, why=why, unlike=bare)
    value = to_si(claim.value, claim.unit)
    if not subject.measure:
        why = f"{subject.title} isn’t compared yet"
        return _Likeness(claim, subject.title, value, tolerance, why=why, unlike=bare)
    why = _unlike(subject, place, printed)
    unlike = bool(why)
    nodes = [each for each in graph.mountings(claim.fan) if each.fan == claim.fan and not each.obstacle]
    if not why and not nodes:
        why = "not measured"
    if why:
        return _Likeness(claim, subject.title, value, tolerance, why=why, unlike=unlike)
    condition = _condition(printed, nodes[0].top, by_volts=_by_volts(nodes))
    if isinstance(condition, str):
        return _Likeness(claim, subject.title, value, tolerance, why=condition, unlike=True)
    return _Likeness(claim, subject.title, value, tolerance, subject.measure, condition)


def _level_ready(book: Book, graph: Graph, claim: Claim, printed: Printed) -> _Likeness:
    """A claim of a level: its place is the microphone's distance, in free air."""
    told = _Likeness(claim, Subject.NOISE.title, claim.value, printed.level_tolerance or 0.0)
    why = _not_understood(printed) or unlike_level(
        replace(printed, tolerance=printed.tolerance or claim.tolerance),
        unit(claim.unit).symbol if is_unit(claim.unit) else repr(claim.unit),
    )
    if not why and printed.place not in (Place.UNTOLD, Place.FREE):
        why = f"printed at {printed.place.value}, measured at {Place.FREE.value}"
    if why:
        return replace(told, why=why, unlike=True)
    nodes = [each for each in graph.sounding(claim.fan) if not each.obstacle]
    if not nodes:
        return replace(told, why="not measured")
    condition = _condition(printed, nodes[0].top, by_volts=by_volts(nodes))
    why = unlike_distance(printed, comparable(book, graph).geometry)
    why = why or (condition if isinstance(condition, str) else "")
    if not why and printed.speed is None and nodes[0].top is None:
        why = "its sound was measured at speeds, without the settings"
    if why or isinstance(condition, str):
        return replace(told, why=why, unlike=True)
    return replace(told, measure=LEVEL, condition=condition)


def _not_understood(printed: Printed) -> str:
    return f"condition not understood: {', '.join(printed.unknown)}" if printed.unknown else ""


def _unlike(subject: Subject, named: Place, printed: Printed) -> str:
    """Why a claim's condition isn't one that is measured, or ""."""
    if why := _not_understood(printed):
        return why
    if printed.distance is not None or printed.level_tolerance is not None:
        return f"condition not understood: a distance or decibels beside {subject.title}"
    place = printed.place or named
    if not place:
        return "its condition isn’t printed"
    if place is not _PLACES[subject]:
        return f"printed at {place.value}, measured at {_PLACES[subject].value}"
    return "" if printed.has_setting else "its setting isn’t printed"


def _condition(printed: Printed, top: float | None, *, by_volts: bool) -> Condition | str:
    """The setting under which the fan is asked, or why it can't be; `top` is its greatest one."""
    if printed.speed is not None:
        return Condition(speed=printed.speed)
    if by_volts and printed.duty is None:
        if printed.full or (top and printed.volts and abs(printed.volts / top - 1.0) <= SAME):
            return Condition()
        return Condition(volts=printed.volts)
    if printed.volts is not None and abs(printed.volts / RATED - 1.0) > SAME:
        return f"printed at {printed.volts:g} V, measured at {RATED:g} V"
    if printed.duty is not None and printed.duty < 1.0 - SAME:
        return "printed at a duty, measured by volts" if by_volts else Condition(duty=printed.duty)
    if top is not None and not by_volts and top < 1.0 - SAME:
        return f"printed at full setting, measured up to {100 * top:.0f} %"
    return Condition()


def _by_volts(nodes: Iterable[CurveNode]) -> bool:
    return any(run.placed.setting_word.endswith("V") for node in nodes for run in node.runs)


# --- what was measured -----------------------------------------------------------------------------------

_Asked = tuple[str, Condition]


def _measured(
    lab: Lab,
    book: Book,
    graph: Graph,
    ready: Sequence[_Likeness],
    blocked: Mapping[str, str],
    progress: Progress,
    *,
    keep: bool,
) -> dict[tuple[_Asked, str], Measured | str]:
    """What each (measure, condition, fan) was found to be, or why it has no value."""
    wanted: dict[tuple[_Asked, float | None], list[str]] = {}
    for each in ready:
        record = book.fans.get(each.claim.fan)
        group = ((each.measure, each.condition), record.size if record else None)
        wanted.setdefault(group, []).append(each.claim.fan)
    found: dict[tuple[_Asked, str], Measured | str] = {}
    for (asked, size), fans in wanted.items():
        if asked[0] == LEVEL:
            levels = box_levels(Sounds(lab, book, graph), asked[1], size, set(fans), blocked, keep=keep)
            found |= {(asked, fan): levels[fan] for fan in fans if fan in levels}
            continue
        question = Asked(measure_named(asked[0]), asked[1], size)
        try:
            numbers = _numbers(lab, book, graph, question, set(fans), blocked, progress, keep=keep)
        except StillroomError as error:
            numbers = dict.fromkeys(fans, error.sentence())
        found |= {(asked, fan): numbers[fan] for fan in fans if fan in numbers}
    return found


def _numbers(
    lab: Lab,
    book: Book,
    graph: Graph,
    asked: Asked,
    fans: Collection[str],
    blocked: Mapping[str, str],
    progress: Progress,
    *,
    keep: bool,
) -> dict[str, Measured | str]:
    """The numbers of some fans as a ranking of all has them, {fan: number, or why there is none}.

    Spreads are those that rankings have agreed; where none is, those of all fans, as a ranking would agree on.
    Mountings that an open finding blocks are left out: no box is judged by doubtful readings.
    """
    field = field_of(book, graph, asked)
    own = {fan: nodes for fan, nodes in field.nodes.items() if fan in fans}
    taking = replace(field, nodes=own) if field.question.spread_name in book.spreads else field
    nodes = [each for group in taking.nodes.values() for each in group]
    values = mounting_values(lab, field.question, nodes, progress=progress)
    bridging = brought_over(lab, book, graph, taking, values, blocked)
    agreed = spread_to_agree_on(book, taking, values, blocked, bridging)
    if agreed is not None:  # bridges lean on the spread too
        book = replace(book, spreads={**book.spreads, agreed.name: agreed})
        bridging = brought_over(lab, book, graph, taking, values, blocked)
    spreads = spreads_of(book, taking, values, blocked, bridging)
    sound = {fan: tuple(each for each in nodes if each.subject not in blocked) for fan, nodes in own.items()}
    judged = replace(field, nodes={fan: nodes for fan, nodes in sound.items() if nodes})
    cases, failed = fan_cases(lab, book, judged, values, blocked, bridging, spreads)
    made = [*bridging.made, *(each.kept for each in cases)]
    if keep:
        lab.put_results(made)
    found: dict[str, Measured | str] = {each.fan: each.why for each in (*field.excluded, *failed)}
    found |= {each.fan: "only a legacy number, without raw data" for each in field.legacy}
    found |= {fan: "all of its mountings wait for a decision" for fan, nodes in sound.items() if not nodes}
    less = {fan: (LEFT_OUT,) for fan, nodes in own.items() if len(sound[fan]) < len(nodes)}
    return found | {
        each.candidate.fan: _measured_of(each, less.get(each.candidate.fan, ())) for each in cases
    }


LEFT_OUT = "mountings with an open finding left out"


def _measured_of(case: FanCase, marks: tuple[str, ...]) -> Measured:
    """A fan's number as what was measured, with what must be said beside it."""
    number = case.candidate
    low, _ = coverage_interval(number.low_trials)
    _, high = coverage_interval(number.high_trials)
    return Measured(
        value=number.value,
        low=float(low),
        high=float(high),
        uncertainty=case.value.variance**0.5,
        samples=number.samples,
        mountings=number.mountings,
        key=number.key,
        marks=(*marks, *number.marks),
    )


def _checked(each: _Likeness, found: Mapping[tuple[_Asked, str], Measured | str]) -> ClaimCheck:
    why: Measured | str = each.why
    if not why:
        why = found.get(((each.measure, each.condition), each.claim.fan), "not measured")
    if isinstance(why, str):
        return not_checkable(each.claim, each.title, each.value, each.tolerance, why, unlike=each.unlike)
    return check(each.claim, each.title, each.value, each.tolerance, why)
