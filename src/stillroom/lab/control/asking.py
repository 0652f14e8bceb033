"""What one fan does under its control, where it was tested: its numbers, and the sentences that are quoted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from stillroom import wording
from stillroom.compare.candidates import Bound, Candidate
from stillroom.core.intervals import coverage_interval
from stillroom.core.speeds import setting_words
from stillroom.core.standards.pwm_fans_4_wire import SPEED_MATCH
from stillroom.lab.book import Book
from stillroom.lab.control.ranking import control_cases
from stillroom.lab.field import Asked
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition, Measure, measure_named
from stillroom.measures import control as measures
from stillroom.store.lab import Lab

OVER: Mapping[str, tuple[str, str]] = {
    measures.START_DUTY: ("duty", "duty"),
    measures.STOP_DUTY: ("duty", "duty"),
    measures.START_VOLTAGE: ("volts", ""),
    measures.STOP_VOLTAGE: ("volts", ""),
}
"""{measure: kind of setting, and the word behind it}."""


@dataclass(frozen=True)
class ControlFact:
    """One measure of control: the fan's value, or why it has none."""

    measure: Measure
    found: Candidate | None
    why: str = ""


@dataclass(frozen=True)
class ControlOfFan:
    """A fan's control: the facts of what was tested, and what may be said of it in sentences."""

    facts: tuple[ControlFact, ...]
    sentences: tuple[str, ...]


def control_of(
    lab: Lab, book: Book, graph: Graph, fan: str, condition: Condition, blocked: Mapping[str, str]
) -> ControlOfFan | None:
    """What a fan does under its control; None where it was not tested, or where something else is asked.

    Parameters
    ----------
    condition : that is asked for: control is told beside the usual answer alone. blocked : {mounting: rule}.
    """
    if condition != Condition() or not graph.controlled(fan):
        return None
    record = book.fans.get(fan)
    facts = []
    for measure in measures.MEASURES:
        asked = Asked(measure_named(measure.name), condition, record.size if record else None, (fan,))
        found = control_cases(lab, book, graph, asked, blocked)
        lab.put_results([each.kept for each in found.cases])
        why = found.why(fan)
        if found.cases:
            facts.append(ControlFact(measure, found.cases[0].candidate))
        elif not why.startswith(NOT_TESTED):
            facts.append(ControlFact(measure, None, why))
    return ControlOfFan(tuple(facts), tuple(_sentences(facts)))


NOT_TESTED = ("no test over", "no step with", "no record of")
"""How the reason begins for a measure of which nothing was tested: it is left out of an answer."""


def _sentences(facts: list[ControlFact]) -> Iterator[str]:
    by_name = {each.measure.name: each for each in facts}
    for name in (measures.START_DUTY, measures.START_VOLTAGE):
        if name in by_name:
            yield from _start(by_name[name])
    for name in (measures.STOP_DUTY, measures.STOP_VOLTAGE):
        if name in by_name:
            yield from _stop(by_name[name], by_name.get(measures.LOWEST_SPEED))
    if measures.LINEARITY in by_name:
        yield from _line(by_name[measures.LINEARITY])
    if (wire := by_name.get(measures.OPEN_WIRE)) and wire.found:
        yield f"With the control wire open it runs at {100 * wire.found.value:.0f} % of full speed."
    if (inrush := by_name.get(measures.INRUSH)) and inrush.found:
        told = inrush.found
        bound = "at least" if told.bound is Bound.AT_LEAST else "up to"
        words = "".join(f" {each}" for each in told.marks if each.startswith("for "))
        yield f"At a start it draws {bound} {wording.with_unit(wording.bare(told.value), 'A')}{words}."


def _setting(measure: Measure, value: float) -> str:
    kind, word = OVER[measure.name]
    return f"{setting_words(kind, value)} {word}".strip()


def _between(measure: Measure, told: Candidate) -> str:
    kind, word = OVER[measure.name]
    assert told.ends is not None  # a threshold with both ends
    low, high = (setting_words(kind, each) for each in (told.ends.low, told.ends.high))
    return f"between {low} and {high} {word}".strip()


def _attempts(told: Candidate) -> str:
    """How a start was obtained, in words behind it."""
    words = [each for each in told.marks if "attempt" in each or each.startswith(measures.STOOD)]
    return f" ({'; '.join(words)})" if words else ""


def _start(fact: ControlFact) -> Iterator[str]:
    told, measure = fact.found, fact.measure
    if told is None:
        yield f"Whether it starts from rest is not known: {fact.why}."
    elif told.bound is Bound.AT_MOST:
        yield f"It starts at {_setting(measure, told.value)}, the lowest that was tried{_attempts(told)}."
    elif told.bound is Bound.AT_LEAST:
        yield f"It does not start each time at {_setting(measure, told.value)}, the highest that was tried."
    else:
        assert told.ends is not None
        at = _setting(measure, told.ends.high)
        by_response = next((each for each in told.marks if each.endswith(measures.IN_RESPONSE)), "")
        said = by_response or f"at {at} it started{_attempts(told)}"
        yield f"It starts {_between(measure, told)}: {said}."


def _stop(fact: ControlFact, lowest: ControlFact | None) -> Iterator[str]:
    told, measure = fact.found, fact.measure
    slow = lowest.found if lowest else None
    rpm = f", its lowest speed seen {60 * slow.value:,.0f} rpm" if slow else ""
    if told is None:
        known = fact.why.startswith("it ")
        yield f"It does not stop: {fact.why}{rpm}." if known else f"Where it stops is not known: {fact.why}."
    elif told.bound is Bound.AT_MOST:
        yield f"It still turned at {_setting(measure, told.value)}, the lowest that was tested{rpm}."
    else:
        word = "duty" if OVER[measure.name][0] == "duty" else "voltage"
        keeps = ", which it keeps until then" if slow and measures.KEEPS_MARK in slow.marks else ""
        full = "; with no control signal it goes to full speed" if measures.FULL_MARK in told.marks else ""
        yield f"It stops {_between(measure, told)} as the {word} falls{rpm}{keeps}{full}."


def _line(fact: ControlFact) -> Iterator[str]:
    told = fact.found
    if told is None:
        return
    low, high = (float(each) for each in coverage_interval(told.trials))
    verdict = (
        "within" if high <= SPEED_MATCH.high else "outside" if low > SPEED_MATCH.high else "at the edge of"
    )
    where = next((f", {each}" for each in told.marks if each.endswith("duty")), "")
    yield (
        f"Its speed departs from the duty by {100 * told.value:.0f} % of full speed at most{where}: {verdict} the"
        " specification’s ± 10 %."
    )
