"""What the rules of quality are told: facts of runs, mountings, fans, obstacles and instruments, gathered here."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Characteristic
from stillroom.lab.book import Book, Placed
from stillroom.lab.recipes import CurveNode, Graph, RunNode
from stillroom.methods.airflow.kept import fan_of
from stillroom.quality import VERSION
from stillroom.quality.facts import FanFacts, InstrumentFacts, MountingFacts, RunFacts
from stillroom.records.acts import Event
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.records.products import Claim, Price
from stillroom.store import results
from stillroom.store.lab import Lab

CHECK = "check"


def told_date(book: Book, placed: Placed) -> str:
    """The day of a mounting by its record or its file, or "": the day on which a file came in says nothing."""
    record = book.mountings.get(placed.mounting)
    return ((record.date if record else None) or placed.told_date)[:10]


def check_key(book: Book, fan: str, nodes: Sequence[CurveNode]) -> str:
    """Key of a fan's check: everything that its rules read."""
    curves = [
        (each.key, each.judged, [(told_date(book, run.placed), run.placed.registered) for run in each.runs])
        for each in nodes
    ]
    record = book.fans.get(fan)
    told = [as_json(each) for each in (*_claims(book, fan), *_prices(book, fan), *_events(book, nodes))]
    return key_of(CHECK, VERSION, fan, curves, as_json(record) if record else None, told,
                  _repeatability(book))  # fmt: skip


def _claims(book: Book, fan: str) -> tuple[Claim, ...]:
    return tuple(each for each in book.claims.values() if each.fan == fan)


def _prices(book: Book, fan: str) -> tuple[Price, ...]:
    return tuple(each for each in book.prices.values() if each.fan == fan)


def _events(book: Book, nodes: Sequence[CurveNode]) -> tuple[Event, ...]:
    """Events that change results, on the rigs that the mountings used."""
    rigs = {run.placed.rig for node in nodes for run in node.runs}
    found = [e for e in book.events.values() if e.changes_results and (e.rig is None or e.rig in rigs)]
    return tuple(sorted(found, key=lambda each: each.time))


def _repeatability(book: Book) -> float | None:
    """The greatest agreed spread between mountings; None where none is agreed."""
    return max((each.mounting for each in book.spreads.values()), default=None)


def fan_facts(lab: Lab, book: Book, fan: str, nodes: Sequence[CurveNode]) -> FanFacts:
    """All that the rules ask of a fan."""
    mountings = [_mounting_facts(lab, book, each) for each in nodes]
    return FanFacts(
        name=fan,
        record=book.fans.get(fan),
        mountings=tuple(sorted(mountings, key=lambda each: (each.date, each.name))),
        claims=_claims(book, fan),
        prices=_prices(book, fan),
        events=_events(book, nodes),
        repeatability=_repeatability(book),
    )


def _mounting_facts(lab: Lab, book: Book, node: CurveNode) -> MountingFacts:
    result = results.get(lab.database, node.key)
    if result is None or result.failed:
        runs: tuple[RunFacts, ...] = ()
        curve, failed = None, result.failed if result else "not reduced yet"
    else:
        arrays = results.load_arrays(lab.path, node.key)
        curve, failed = fan_of(result.body, arrays).characteristic, ""
        runs = tuple(_run_facts(node.runs, result.body["runs"], arrays, curve))
    first = node.runs[0].placed
    return MountingFacts(
        name=node.subject,
        fan=node.fan,
        sample=node.sample,
        obstacle=node.obstacle,
        rig=first.rig,
        date=told_date(book, first),
        judged=node.judged,
        registered=all(each.placed.registered for each in node.runs),
        runs=runs,
        curve=curve,
        failed=failed,
        diameter=node.diameter,
        bores={name: each.bore for name, each in node.runs[0].bench.nozzles.items()},
    )


def _run_facts(
    nodes: Sequence[RunNode],
    bodies: Sequence[Mapping[str, Any]],
    arrays: Mapping[str, Array],
    curve: Characteristic,
) -> Iterator[RunFacts]:
    start = 0
    checks = {each.sweep: each for each in curve.sweeps}
    for i, (node, body) in enumerate(zip(nodes, bodies, strict=True)):
        end = start + int(body["points"])
        yield RunFacts(
            run=node.placed.run,
            key=node.key,
            file=node.placed.taken.file,
            date=node.placed.date,
            rig=node.placed.rig,
            lines=tuple(body["lines"]),
            setting=node.placed.setting,
            setting_word=node.placed.setting_word,
            flow=np.array(body["flow"]),
            pressure=np.array(body["pressure"]),
            speed=None if body["speed"] is None else np.array(body["speed"]),
            power=None if body["power"] is None else np.array(body["power"]),
            own_flow=np.array(body["own_flow"]),
            own_pressure=np.array(body["own_pressure"]),
            shared_flow=body["shared_flow"],
            shared_pressure=body["shared_pressure"],
            phi=arrays["points_phi"][start:end],
            psi=arrays["points_psi"][start:end],
            reynolds=arrays["points_reynolds"][start:end],
            scatter=curve.extra_scatter[start:end],
            nozzles=tuple(tuple(filter(None, each.split("+"))) for each in body["nozzles"]),
            read={name: np.array(each) for name, each in body["read"].items()},
            marks=tuple(body["marks"]),
            low_reynolds=body["low_reynolds"],
            density=body["density"],
            efficiency=body["static_efficiency"],
            check=checks[i],
            held=tuple(each.index - start for each in curve.held if each.sweep == i),
        )
        start = end


def instrument_facts(book: Book, graph: Graph) -> list[InstrumentFacts]:
    """Each instrument under each calibration that runs used, with what hangs on it."""
    used: dict[tuple[str, str], list[tuple[str, CurveNode]]] = defaultdict(list)
    for node in graph.curves:
        for run in node.runs:
            for name in run.calibrations.values():
                known = name in book.calibrations
                instrument = book.calibrations[name].instrument if known else name.rpartition(" (")[0]
                used[instrument, name if known else ""].append((told_date(book, run.placed), node))
    return [_instrument(book, *each, uses) for each, uses in sorted(used.items())]


def _instrument(
    book: Book, instrument: str, calibration: str, uses: Sequence[tuple[str, CurveNode]]
) -> InstrumentFacts:
    due = (book.calibrations[calibration].due or "") if calibration else ""
    late = [(date, node) for date, node in uses if due and date > due] if calibration else list(uses)
    record = book.instruments[instrument]
    return InstrumentFacts(
        name=instrument,
        calibration=calibration,
        due=due,
        last=max(date for date, _ in uses),
        accuracy=record.accuracy_relative is not None or record.accuracy_absolute is not None,
        mountings=tuple(sorted({node.subject for _, node in late if node.kind == "mounting"})),
        fans=tuple(sorted({node.fan for _, node in late if node.fan})),
    )
