"""The recipe graph: every result as a node whose key holds all that it hangs on.

    taken file + layout + reader ─┐
    calibrations, nozzles, rig  ──┴→ run → mounting ─┐
                                     run → obstacle ─┴→ value of a mounting → value of a fan → ranking

A key is made without computing anything, so that what is there already is found before any work is done.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from stillroom.errors import StillroomError, UnknownThing
from stillroom.lab.book import Book, Placed, place_all
from stillroom.methods.airflow import mounting as mounting_method
from stillroom.methods.airflow import obstacle as obstacle_method
from stillroom.methods.airflow.bench import Bench
from stillroom.methods.airflow.chain import Chain
from stillroom.records.bench import Calibration, Rig
from stillroom.records.keys import key_of

UNKNOWN_DIAMETER = 0.12
"""Reference diameter where nobody told the fan's size [m]; it cancels within one fan."""


@dataclass(frozen=True)
class RunNode:
    """One run: what is read, on which bench.

    Parameters
    ----------
    key : of the run. placed : the file with its place. bench : the rig as used.
    calibrations : names of the calibrations in force, by quantity.
    """

    key: str
    placed: Placed
    bench: Bench
    calibrations: dict[str, str]


@dataclass(frozen=True)
class CurveNode:
    """A mounting of a fan or an obstacle: what is fitted from which runs.

    Parameters
    ----------
    key : of the result. kind : "mounting" or "obstacle". subject : its name. fan, sample : names, or "".
    obstacle : what stood before the fan, or the obstacle itself; "" for a bare fan.
    diameter : reference diameter [m]. runs : the runs used. left_out : runs that a decision excludes.
    trials : number of trials. judged : key of what findings judge: the same, with nothing left out.
    """

    key: str
    kind: str
    subject: str
    fan: str
    sample: str
    obstacle: str
    diameter: float
    runs: tuple[RunNode, ...]
    left_out: tuple[RunNode, ...]
    trials: int
    judged: str

    @property
    def inputs(self) -> dict[str, Any]:
        """What the result hangs on, by role."""
        return {
            "runs": [
                {
                    "run": each.placed.run,
                    "key": each.key,
                    "file": each.placed.taken.file,
                    "calibrations": each.calibrations,
                    "nozzles": list(each.placed.taken.nozzles or ()),
                    "rig": each.placed.rig,
                    "setting": each.placed.setting_word,
                }
                for each in self.runs
            ]
        }

    @property
    def method(self) -> str:
        """The method with its version."""
        module = mounting_method if self.kind == "mounting" else obstacle_method
        return f"airflow {self.kind} {module.VERSION}"


@dataclass(frozen=True)
class Graph:
    """All curve nodes of a lab, and the runs that can't be placed, with why."""

    curves: tuple[CurveNode, ...]
    unplaced: tuple[tuple[Placed, str], ...]

    def mountings(self, fan: str = "") -> list[CurveNode]:
        """The mounting nodes, of one fan where it is named."""
        return [each for each in self.curves if each.kind == "mounting" and fan in {"", each.fan}]

    def obstacle(self, name: str) -> CurveNode | None:
        """The node of an obstacle's resistance, or None where it wasn't measured."""
        return next((each for each in self.curves if each.kind == "obstacle" and each.subject == name), None)


def build_graph(book: Book) -> Graph:
    """The recipe graph of a lab as its book stands."""
    groups: dict[tuple[str, ...], list[RunNode]] = defaultdict(list)
    unplaced: list[tuple[Placed, str]] = []
    for placed in place_all(book):
        try:
            node = _run_node(book, placed)
        except StillroomError as error:
            unplaced.append((placed, error.sentence()))
            continue
        if placed.is_obstacle and not placed.obstacle:
            unplaced.append((placed, "neither a fan nor an obstacle is named for it"))
        elif placed.is_obstacle:
            groups[("obstacle", placed.obstacle)].append(node)
        else:
            groups[("mounting", placed.mounting, placed.fan, placed.sample, placed.obstacle)].append(node)
    excluded = _excluded(book)
    curves = (_curve_node(book, group, nodes, excluded) for group, nodes in groups.items())
    return Graph(tuple(each for each in curves if each.runs), tuple(unplaced))


def _excluded(book: Book) -> set[tuple[str, str]]:
    """(subject, key) of what people have excluded; it lapses when the key moves."""
    return {(each.subject, each.key) for each in book.decisions.values() if each.action == "exclude"}


def _curve_node(
    book: Book, group: tuple[str, ...], nodes: list[RunNode], excluded: set[tuple[str, str]]
) -> CurveNode:
    kind, subject = group[0], group[1]
    fan, sample, obstacle = group[2:] if kind == "mounting" else ("", "", subject)
    record = book.fans.get(fan)
    diameter = (record.size if record else None) or UNKNOWN_DIAMETER
    ordered = sorted(nodes, key=lambda each: (each.placed.setting or 0.0, each.placed.taken.file))
    judged = _key(book, kind, subject, diameter, ordered)
    whole = (f"mounting:{subject}", judged) in excluded
    kept = [each for each in ordered if not whole and (f"run:{each.placed.run}", each.key) not in excluded]
    return CurveNode(
        key=_key(book, kind, subject, diameter, kept),
        kind=kind,
        subject=subject,
        fan=fan,
        sample=sample,
        obstacle=obstacle,
        diameter=diameter,
        runs=tuple(kept),
        left_out=tuple(each for each in ordered if each not in kept),
        trials=book.settings.trials,
        judged=judged,
    )


def _key(book: Book, kind: str, subject: str, diameter: float, nodes: Iterable[RunNode]) -> str:
    module = mounting_method if kind == "mounting" else obstacle_method
    parts = [(each.key, each.placed.setting) for each in nodes]
    return key_of(kind, module.VERSION, subject, diameter, book.settings.trials, parts)


def _run_node(book: Book, placed: Placed) -> RunNode:
    taken = placed.taken
    rig = book.rigs.get(placed.rig)
    if placed.rig and rig is None:
        raise UnknownThing(
            f"rig {placed.rig!r}", place=taken.file, found="no such rig", expected="a rig in a TOML file"
        )
    chains, calibrations = _chains(book, rig, placed)
    used = {name: book.nozzles[name] for name in taken.nozzles or () if name in book.nozzles}
    accuracy = _accuracy(rig, placed)
    bench = Bench.of(rig or Rig(rig=placed.rig), chains, book.nozzles, accuracy)
    for name in taken.nozzles or ():
        bench.nozzle(name, taken.file)
    parts = (taken.sha256, taken.layout, taken.reader, bench.arrangement, chains, used, accuracy)
    return RunNode(key_of("run", *parts), placed, bench, calibrations)


def _accuracy(rig: Rig | None, placed: Placed) -> tuple[float, float] | None:
    said = placed.taken.said or {}
    if "accuracy_relative" in said:
        return float(said["accuracy_relative"]), float(said.get("accuracy_absolute", 0.0))
    if rig is None or (rig.accuracy_relative is None and rig.accuracy_absolute is None):
        return None
    return rig.accuracy_relative or 0.0, rig.accuracy_absolute or 0.0


def _chains(book: Book, rig: Rig | None, placed: Placed) -> tuple[dict[str, Chain], dict[str, str]]:
    chains: dict[str, Chain] = {}
    names: dict[str, str] = {}
    for quantity in placed.taken.quantities:
        instrument = book.instruments.get(((rig.roles if rig else None) or {}).get(quantity, ""))
        if instrument is None:
            continue
        calibration = _in_force(book, instrument.instrument, placed.date)
        chains[quantity] = Chain.of(instrument, calibration)
        names[quantity] = calibration.name if calibration else f"{instrument.instrument} (not calibrated)"
    return chains, names


def _in_force(book: Book, instrument: str, date: str) -> Calibration | None:
    """The latest calibration of an instrument on a date; the first there is where all are later."""
    own = sorted((each for each in book.calibrations.values() if each.instrument == instrument),
                 key=lambda each: each.date)  # fmt: skip
    before = [each for each in own if each.date <= date[:10]]
    return before[-1] if before else (own[0] if own else None)
