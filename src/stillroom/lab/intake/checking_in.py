"""What is said of a run right after it came in: its curve worked out, its findings asked, one word and why."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from stillroom import wording
from stillroom.core.characteristic import Characteristic, Part, pressure_coefficients
from stillroom.errors import LabDamaged, StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.blocking import undecided
from stillroom.lab.book import Book, Placed, open_book
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.executor import Progress, silent
from stillroom.lab.findings import findings_of
from stillroom.lab.intake.checked import Checked, Word, by_findings
from stillroom.lab.intake.checking_control import check_controls, tested_controls
from stillroom.lab.intake.checking_heat import check_heats, is_beside, warm
from stillroom.lab.intake.checking_sound import check_sounds, hear
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import Reducing
from stillroom.quality import Finding
from stillroom.store.lab import Lab

GRID = 60

FAR = 0.03
"""A mounting further than this from the last one is to be looked at, whatever the rules say [1]."""


def check_in(
    lab: Lab, runs: Collection[str], *, workers: int = 0, progress: Progress = silent
) -> tuple[list[Checked], Book, Graph]:
    """Work out the curves that some runs belong to, and say of each run how it fits in.

    Parameters
    ----------
    runs : their short identities. workers : number of processes, 0 for one a core.

    Returns
    -------
    What was found, in the order of the book; the book and the recipe graph that it was found by.
    """
    book = open_book(lab)
    graph = build_graph(book)
    wanted = set(runs)
    holding = {run.placed.run: node for node in graph.curves for run in node.runs if run.placed.run in wanted}
    fans = {node.fan for node in holding.values() if node.fan}
    keys = {node.key for node in holding.values()}
    needed = [node for node in graph.curves if node.key in keys or node.fan in fans]
    reducing = Reducing(lab, workers, progress)
    reducing.curves(needed)
    heard = hear(graph, wanted, reducing)
    warmed = warm(graph, wanted, reducing)
    tested = tested_controls(graph, wanted, reducing)
    for others in (heard, warmed, tested):
        fans |= {node.fan for node in others.values()}
    found = undecided(findings_of(lab, book, graph, fans), book.decisions) if fans else []
    placed = {run.placed.run: run.placed for node in graph.curves for run in node.runs}
    checked = [_checked(lab, graph, holding[each], placed[each], found) for each in placed if each in holding]
    checked += check_sounds(lab, graph, heard, found, wanted)
    checked += check_heats(lab, graph, warmed, found, wanted)
    checked += check_controls(lab, tested, found)
    checked += [
        Checked(each, Word.STOP, f"not used: {why}")
        for each, why in graph.unplaced
        if each.run in wanted and not is_beside(each)
    ]
    return checked, book, graph


def not_used(graph: Graph, but: Collection[str] = ()) -> list[str]:
    """The files that belong to no curve and no sound, each with why, without some runs of which it was said."""
    return [f"{each.taken.words}: not used: {why}" for each, why in graph.unplaced if each.run not in but]


def _checked(lab: Lab, graph: Graph, node: CurveNode, placed: Placed, found: Sequence[Finding]) -> Checked:
    subjects = {f"run:{placed.run}", f"{node.kind}:{node.subject}"}
    own = tuple(each for each in found if each.subject in subjects or _names(each, node))
    word, reason = by_findings(own)
    if word is not None:
        return Checked(placed, word, wording.in_lab_units(reason, lab.settings.units), own)
    try:
        doubted = {mounting for each in found if each.blocks for mounting in each.mountings}
        return replace(_by_curves(lab, graph, node, placed, doubted), findings=own)
    except LabDamaged:
        raise
    except StillroomError as error:
        return Checked(placed, Word.LOOK, error.sentence(), own)


def _names(finding: Finding, node: CurveNode) -> bool:
    """Whether a finding about something larger blocks this run's mounting, and no single run of it."""
    return node.subject in finding.mountings and not finding.subject.startswith(("run:", "mounting:"))


def _by_curves(lab: Lab, graph: Graph, node: CurveNode, placed: Placed, doubted: Collection[str]) -> Checked:
    """The word that the curves give where no finding does."""
    result = result_of(lab, node)
    if node.kind == "obstacle":
        points = sum(each.placed.taken.points for each in node.runs)
        return Checked(placed, Word.FIRST, f"resistance from {wording.plural(points, 'point')}")
    own = load_fan(lab.path, result).characteristic
    before = last_mounting(graph, node, doubted)
    if before is not None:
        away = departure(own, load_fan(lab.path, result_of(lab, before)).characteristic)
        if away > FAR:
            return Checked(placed, Word.LOOK, f"{_share(away)} from mounting {before.subject}", away=away)
        return Checked(placed, Word.AGREES, f"within {_share(away)} of mounting {before.subject}", away=away)
    if len(node.runs) > 1:
        place = next(i for i, each in enumerate(node.runs) if each.placed.run == placed.run)
        away = _scatter(own, place)
        return Checked(
            placed, Word.AGREES, f"within {_share(away)} of the mounting's other sweeps", away=away
        )
    return Checked(placed, Word.FIRST, "nothing to compare it with yet")


def _share(value: float) -> str:
    return f"{value:.1%}".replace("%", wording.NO_BREAK + "%")


def _scatter(curve: Characteristic, sweep: int) -> float:
    """Root mean square residual of one sweep, relative to the curve's greatest pressure coefficient [1]."""
    points = [each.points for each in sorted(curve.sweeps, key=lambda each: each.sweep)]
    start = sum(points[:sweep])
    own = curve.residuals[start : start + points[sweep]]
    grid = np.linspace(max(curve.reach[0], 0.0), curve.reach[1], GRID)
    psi = pressure_coefficients(curve, grid, curve.reynolds_reference, part=Part.CENTRAL)[0]
    return float(np.sqrt(np.mean(own**2)) / np.max(np.abs(psi)))


def last_mounting(graph: Graph, node: CurveNode, doubted: Collection[str] = ()) -> CurveNode | None:
    """The mounting of the same fan, with the same obstacle, that was measured last before this one; else None.

    Those whose names are in `doubted` are passed over.
    """
    started = _started(node)
    earlier = [
        each
        for each in graph.mountings(node.fan)
        if each.subject not in {node.subject, *doubted}
        and each.obstacle == node.obstacle
        and _started(each) <= started
    ]
    return max(earlier, key=lambda each: (_started(each), each.subject), default=None)


def _started(node: CurveNode) -> str:
    return min(each.placed.moment for each in node.runs)


def departure(one: Characteristic, other: Characteristic) -> float:
    """Root mean square difference of two central curves over the flow that both reach, relative to the
    greatest pressure coefficient of the other [1].
    """
    high = min(one.reach[1], other.reach[1])
    low = min(max(one.reach[0], other.reach[0], 0.0), high)
    flow = np.linspace(low, high, GRID)
    reynolds = other.reynolds_reference
    psi = [pressure_coefficients(each, flow, reynolds, part=Part.CENTRAL)[0] for each in (one, other)]
    return float(np.sqrt(np.mean((psi[0] - psi[1]) ** 2)) / np.max(np.abs(psi[1])))
