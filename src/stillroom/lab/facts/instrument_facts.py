"""Facts of the instruments of a lab under the calibrations in force, with what hangs on them, as the rules are told."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stillroom.lab.book import Book
from stillroom.lab.facts.airflow_facts import told_date
from stillroom.lab.recipes import AnyNode, Graph
from stillroom.quality.facts import InstrumentFacts
from stillroom.records.bench import Calibration


@dataclass(frozen=True)
class _Use:
    """One use of an instrument under a calibration, "" for none: the day, and the mounting that hangs on it.

    `excused` : nothing hangs on an accuracy of its own: a bath or a calibrator told what it reads.
    """

    instrument: str
    calibration: str
    date: str
    node: AnyNode
    excused: bool = False


def instrument_facts(book: Book, graph: Graph) -> list[InstrumentFacts]:
    """Each instrument under each calibration that runs used: those of airflow, of sound, of heat, of control."""
    kinds = (_airflow(book, graph), _sound(book, graph), _heat(book, graph), _control(book, graph))
    return [fact for uses in kinds for fact in _facts(book, uses)]


def _facts(book: Book, uses: Iterable[_Use]) -> list[InstrumentFacts]:
    by_calibration: dict[tuple[str, str], list[_Use]] = defaultdict(list)
    for each in uses:
        by_calibration[each.instrument, each.calibration].append(each)
    return [_fact(book, *each, own) for each, own in sorted(by_calibration.items())]


def _fact(book: Book, instrument: str, calibration: str, uses: Sequence[_Use]) -> InstrumentFacts:
    due = (book.calibrations[calibration].due or "") if calibration else ""
    late = [each.node for each in uses if not calibration or (due and each.date > due)]
    record = book.instruments[instrument]
    return InstrumentFacts(
        name=instrument,
        calibration=calibration,
        due=due,
        last=max(each.date for each in uses),
        accuracy=record.accuracy_relative is not None
        or record.accuracy_absolute is not None
        or all(each.excused for each in uses),
        mountings=tuple(sorted({node.blocked_as for node in late if node.kind != "obstacle"})),
        fans=tuple(sorted({node.fan for node in late if node.fan})),
        obstacles=tuple(sorted({node.subject for node in late if node.kind == "obstacle"})),
    )


def _used(book: Book, name: str, date: str, node: AnyNode, *, excused: bool = False) -> _Use:
    """A use under a calibration by its name, or of an instrument without one, as benches name it."""
    if name in book.calibrations:
        return _Use(book.calibrations[name].instrument, name, date, node, excused)
    return _Use(name.rpartition(" (")[0], "", date, node, excused)


def _airflow(book: Book, graph: Graph) -> Iterable[_Use]:
    for node in graph.curves:
        for run in node.runs:
            for name in run.calibrations.values():
                yield _used(book, name, told_date(book, run.placed), node)


def _heat(book: Book, graph: Graph) -> Iterable[_Use]:
    for node in graph.heats:
        for log in node.logs:
            for name in log.calibrations.values():
                yield _used(book, name, log.run.placed.date[:10], node, excused=bool(node.baths))


def _control(book: Book, graph: Graph) -> Iterable[_Use]:
    for node in graph.controls:
        for run in node.runs:
            for name in run.calibrations.values():
                yield _used(book, name, run.placed.date, node)


def _sound(book: Book, graph: Graph) -> Iterable[_Use]:
    """The microphones and calibrators; what a microphone's scale rests on is told by rule 5."""
    for node in graph.sounds:
        for name in {node.microphone.name, node.microphone.calibrator} & set(book.instruments):
            excused = node.microphone.calibrator != name
            for date in {each.run.placed.date[:10] for each in node.recordings}:
                yield _Use(name, _in_force(book, name, date), date, node, excused)


def _in_force(book: Book, instrument: str, date: str) -> str:
    """The latest calibration on a date; the first where all are later; "" where there is none."""
    own: list[Calibration] = sorted(
        (each for each in book.calibrations.values() if each.instrument == instrument),
        key=lambda each: each.date,
    )
    before = [each for each in own if each.date <= date]
    return (before or own)[-1 if before else 0].name if own else ""
