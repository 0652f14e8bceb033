"""The claims of a lab's boxes, each checked by what the lab measured under the same condition."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from stillroom.compare.candidates import How
from stillroom.compare.claims import ClaimCheck, Measured, check, not_checkable
from stillroom.compare.printed import Place, Printed, Subject, read_printed, subject_of
from stillroom.compare.standing import Standing
from stillroom.errors import StillroomError
from stillroom.lab.book import Book
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.measures import Condition, measure_named
from stillroom.records.products import Claim
from stillroom.store import results
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
    """A claim made ready: what answers it under which condition, or why nothing can."""

    claim: Claim
    title: str
    value: float
    tolerance: float
    measure: str = ""
    condition: Condition = Condition()
    why: str = ""


def check_claims(
    lab: Lab,
    book: Book,
    graph: Graph,
    *,
    only: Sequence[str] = (),
    blocked: Mapping[str, str] | None = None,
    progress: Progress = silent,
) -> tuple[ClaimCheck, ...]:
    """Every claim of the book with its verdict, in the book's order.

    A claim is checked only under the condition that the box prints: quantity, place on the curve and setting
    must be told, and all of its words understood. The value is the fan's own (mean over samples of means over
    mountings), with the uncertainty of its ranking.

    Parameters
    ----------
    only : only these fans; all where empty. blocked : as for `rank_fans`.
    """
    claims = [each for each in book.claims.values() if not only or each.fan in only]
    ready = [_ready(graph, each) for each in claims]
    found = _measured(lab, book, graph, [each for each in ready if not each.why], blocked or {}, progress)
    return tuple(_checked(each, found) for each in ready)


# --- what a claim asks -----------------------------------------------------------------------------------


def _ready(graph: Graph, claim: Claim) -> _Likeness:
    named = subject_of(claim.quantity)
    printed = read_printed(claim.condition or "")
    tolerance = claim.tolerance if claim.tolerance is not None else printed.tolerance or 0.0
    if named is None:
        return _Likeness(claim, claim.quantity, claim.value, tolerance, why="quantity not known")
    subject, place = named
    if not is_unit(claim.unit) or unit(claim.unit).dimension != subject.dimension:
        why = (
            f"{subject.title} isn’t measured yet" if not subject.measure else f"unit {claim.unit!r} not known"
        )
        return _Likeness(claim, subject.title, claim.value, tolerance, why=why)
    value = to_si(claim.value, claim.unit)
    if not subject.measure:
        return _Likeness(claim, subject.title, value, tolerance, why=f"{subject.title} isn’t compared yet")
    why = _unlike(subject, place, printed)
    nodes = [each for each in graph.mountings(claim.fan) if each.fan == claim.fan and not each.obstacle]
    if not why and not nodes:
        why = "not measured"
    if why:
        return _Likeness(claim, subject.title, value, tolerance, why=why)
    condition = _condition(printed, nodes)
    if isinstance(condition, str):
        return _Likeness(claim, subject.title, value, tolerance, why=condition)
    return _Likeness(claim, subject.title, value, tolerance, subject.measure, condition)


def _unlike(subject: Subject, named: Place, printed: Printed) -> str:
    """Why a claim's condition isn't one that is measured, or ""."""
    if printed.unknown:
        return f"condition not understood: {', '.join(printed.unknown)}"
    place = printed.place or named
    if not place:
        return "its condition isn’t printed"
    if place is not _PLACES[subject]:
        return f"printed at {place.value}, measured at {_PLACES[subject].value}"
    return "" if printed.has_setting else "its setting isn’t printed"


def _condition(printed: Printed, nodes: Sequence[CurveNode]) -> Condition | str:
    """The setting under which the fan is asked, or why it can't be."""
    if printed.speed is not None:
        return Condition(speed=printed.speed)
    top = nodes[0].top
    by_volts = _by_volts(nodes)
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
) -> dict[tuple[_Asked, str], Measured | str]:
    """What each (measure, condition, fan) was found to be, or why it has no value."""
    wanted: dict[tuple[_Asked, float | None], list[str]] = {}
    for each in ready:
        record = book.fans.get(each.claim.fan)
        group = ((each.measure, each.condition), record.size if record else None)
        wanted.setdefault(group, []).append(each.claim.fan)
    found: dict[tuple[_Asked, str], Measured | str] = {}
    for (asked, size), fans in wanted.items():
        question = Asked(measure_named(asked[0]), asked[1], size)  # of all fans: the numbers of the ranking
        try:
            ranking = rank_fans(lab, book, graph, question, blocked=blocked, progress=progress)
        except StillroomError as error:
            found |= {(asked, fan): error.sentence() for fan in fans}
            continue
        here = [each for each in ranking.standings if each.fan in fans]
        found |= {(asked, each.fan): _of_standing(lab, each) for each in here}
        found |= {(asked, each.fan): each.why for each in ranking.excluded if each.fan in fans}
    return found


def _of_standing(lab: Lab, standing: Standing) -> Measured | str:
    """A standing as what was measured; its standard uncertainty is kept with its result."""
    if standing.how is How.LEGACY:
        return "only a legacy number, without raw data"
    kept = results.get(lab.database, standing.key)
    if kept is None:
        return "no result that can be followed"
    return Measured(
        value=standing.value,
        low=standing.low,
        high=standing.high,
        uncertainty=float(kept.body["standard_uncertainty"]),
        samples=standing.samples,
        mountings=standing.mountings,
        key=standing.key,
        marks=standing.marks,
    )


def _checked(each: _Likeness, found: Mapping[tuple[_Asked, str], Measured | str]) -> ClaimCheck:
    why: Measured | str = each.why
    if not why:
        why = found.get(((each.measure, each.condition), each.claim.fan), "not measured")
    if isinstance(why, str):
        return not_checkable(each.claim, each.title, each.value, each.tolerance, why)
    return check(each.claim, each.title, each.value, each.tolerance, why)
