"""From the runs of airflow of a lab to the nodes of its graph of keys."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from stillroom.errors import StillroomError
from stillroom.lab.airflow.nodes import CurveNode, RunNode
from stillroom.lab.benches import Benches
from stillroom.lab.book import Book, Placed
from stillroom.lab.judged import Excluded, Judged
from stillroom.methods.airflow import mounting as mounting_method
from stillroom.methods.airflow import obstacle as obstacle_method
from stillroom.records.keys import key_of

UNKNOWN_DIAMETER = 0.12
"""Reference diameter where nobody told the fan's size [m]; it cancels within one fan."""

Tops = Mapping[tuple[str, str], float]
"""The greatest setting of each fan by kind, {(fan, kind of setting): SI}: full setting is the same for all its
mountings."""


@dataclass(frozen=True)
class Curves:
    """The nodes of airflow, the runs that belong to none, with why, and the fans' greatest settings.

    `judged` holds (subject, key) of all that a decision can exclude, as it stands now.
    """

    curves: tuple[CurveNode, ...]
    unplaced: tuple[tuple[Placed, str], ...]
    judged: frozenset[Judged]
    tops: Tops


def curves_of(book: Book, placed: Iterable[Placed], excluded: Excluded, benches: Benches) -> Curves:
    """The nodes of all runs of airflow.

    Parameters
    ----------
    book : the lab's records. placed : the runs of airflow. excluded : by decisions. benches : of the lab.
    """
    groups: dict[tuple[str, ...], list[RunNode]] = defaultdict(list)
    unplaced: list[tuple[Placed, str]] = []
    for each in placed:
        try:
            key, used = benches.run(each)
        except StillroomError as error:
            unplaced.append((each, error.sentence()))
            continue
        node = RunNode(key, each, used.bench, used.calibrations)
        if each.is_obstacle and not each.obstacle:
            unplaced.append((each, "neither a fan nor an obstacle is named for it"))
        elif each.is_obstacle:
            groups["obstacle", each.obstacle].append(node)
        else:
            groups["mounting", each.mounting, each.fan, each.sample, each.obstacle].append(node)
    tops = _tops(groups)
    made = [
        _curve_node(
            book, group, nodes, excluded, tops.get((group[2], _leading(nodes))) if group[2:] else None
        )
        for group, nodes in groups.items()
    ]
    used_curves = tuple(each for each in made if each.runs)
    return Curves(used_curves, tuple(unplaced), frozenset(_judged(made)), tops)


def _judged(curves: Iterable[CurveNode]) -> set[Judged]:
    """(subject, key) of all that a decision can exclude, as it stands now."""
    judged = {(f"mounting:{each.subject}", each.judged) for each in curves}
    return judged | {
        (f"run:{run.placed.run}", run.key) for each in curves for run in (*each.runs, *each.left_out)
    }


def _tops(groups: Mapping[tuple[str, ...], list[RunNode]]) -> Tops:
    """The greatest settings of fans over their mountings."""
    tops: dict[tuple[str, str], float] = {}
    for nodes in groups.values():
        for each in nodes:
            placed = each.placed
            if placed.fan and placed.setting is not None:
                kind = (placed.fan, placed.setting_kind)
                tops[kind] = max(tops.get(kind, 0.0), placed.setting)
    return tops


def _leading(nodes: Iterable[RunNode]) -> str:
    """The kind of setting by which a mounting's full setting is told: duty before volts before speed."""
    kinds = {each.placed.setting_kind for each in nodes}
    return next((each for each in mounting_method.KINDS if each in kinds), "")


def _curve_node(
    book: Book,
    group: tuple[str, ...],
    nodes: list[RunNode],
    excluded: Excluded,
    top: float | None,
) -> CurveNode:
    kind, subject = group[0], group[1]
    fan, sample, obstacle = group[2:] if kind == "mounting" else ("", "", subject)
    record = book.fans.get(fan)
    diameter = (record.size if record else None) or UNKNOWN_DIAMETER
    ordered = sorted(nodes, key=_in_order)
    settings = (subject, diameter, top, book.settings.trials)
    judged = _key(kind, settings, ordered)
    whole = (f"mounting:{subject}", judged) in excluded
    kept = [each for each in ordered if not whole and (f"run:{each.placed.run}", each.key) not in excluded]
    return CurveNode(
        key=_key(kind, settings, kept),
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
        top=top,
    )


def _in_order(node: RunNode) -> tuple[float, str, int]:
    """By setting, then by file and part."""
    placed = node.placed
    return placed.setting or 0.0, placed.taken.file, placed.taken.part or 0


def _key(kind: str, settings: tuple[Any, ...], nodes: Iterable[RunNode]) -> str:
    module = mounting_method if kind == "mounting" else obstacle_method
    parts = [
        (each.key, each.placed.setting, each.placed.setting_kind, each.placed.direction) for each in nodes
    ]
    return key_of(kind, module.VERSION, settings, parts)
