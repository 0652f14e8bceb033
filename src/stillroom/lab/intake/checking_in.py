"""What is said of a run right after it came in: its curve worked out, its findings asked, one word and why."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from stillroom import wording
from stillroom.core.characteristic import Characteristic, Part, pressure_coefficients
from stillroom.errors import LabDamaged, StillroomError
from stillroom.lab.book import Book, Placed, open_book
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.executor import Progress, silent
from stillroom.lab.findings import findings_of, undecided
from stillroom.lab.recipes import CurveNode, Graph, build_graph
from stillroom.lab.reducing import work_out
from stillroom.quality import Finding
from stillroom.store.lab import Lab

ABOUT_RECORDS = frozenset({1, 2, 3, 4, 5, 25, 31, 33, 39, 40, 42, 43, 45, 46, 48, 49, 50})
"""Rules whose marks are about what is on record, not about the run: they don't change its word."""

GRID = 60

FAR = 0.03
"""A mounting further than this from the last one is to be looked at, whatever the rules say [1]."""


class Word(StrEnum):
    """The one word for a run."""

    AGREES = "agrees"
    FIRST = "first"
    LOOK = "look"
    STOP = "stop"


@dataclass(frozen=True)
class Checked:
    """A run as it was found right after it came in.

    Parameters
    ----------
    placed : the run. word, reason : what is to be said of it. findings : those that nobody has decided.
    away : how far it lies from what it was compared with, relative to the greatest pressure [1]; 0 without.
    """

    placed: Placed
    word: Word
    reason: str
    findings: tuple[Finding, ...] = ()
    away: float = 0.0

    @property
    def what(self) -> str:
        """The run as people name it: fan, sample, setting and direction, or the obstacle."""
        each = self.placed
        if each.is_obstacle:
            return f"obstacle {each.obstacle}" if each.obstacle else "an obstacle"
        setting = each.setting_word or "no setting told"
        words = [each.fan, each.sample, setting, each.direction, f"through {each.obstacle}"]
        return " ".join(word for word in words[: 5 if each.obstacle else 4] if word)

    @property
    def line(self) -> str:
        """File, what it is, the word and the reason."""
        return f"{self.placed.taken.words}  {self.what}: {self.word.value}: {self.reason}"

    @property
    def advice(self) -> str:
        """What to do about it at the rig: the one-minute test of the finding that gave the word; else ""."""
        told = _telling(self.findings)
        if not told or self.word not in (Word.STOP, Word.LOOK):
            return ""
        return f"finding {told[0].id}" + (f": {told[0].test}" if told[0].test else "")

    def as_dict(self) -> dict[str, object]:
        """The same as data."""
        each = self.placed
        return {
            "run": each.run, "file": each.taken.file, "part": each.taken.part, "fan": each.fan,
            "sample": each.sample, "mounting": each.mounting, "obstacle": each.obstacle, "rig": each.rig,
            "setting": each.setting_word, "direction": each.direction, "word": self.word.value,
            "reason": self.reason, "findings": [one.as_dict() for one in self.findings],
        }  # fmt: skip


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
    work_out(lab, needed, workers=workers, progress=progress)
    found = undecided(findings_of(lab, book, graph, fans), book.decisions) if fans else []
    placed = {run.placed.run: run.placed for node in graph.curves for run in node.runs}
    checked = [_checked(lab, graph, holding[each], placed[each], found) for each in placed if each in holding]
    checked += [
        Checked(each, Word.STOP, f"not used: {why}") for each, why in graph.unplaced if each.run in wanted
    ]
    return checked, book, graph


def _checked(lab: Lab, graph: Graph, node: CurveNode, placed: Placed, found: Sequence[Finding]) -> Checked:
    subjects = {f"run:{placed.run}", f"{node.kind}:{node.subject}"}
    own = tuple(each for each in found if each.subject in subjects or _names(each, node))
    word, reason = _by_findings(own)
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


def _telling(own: Sequence[Finding]) -> list[Finding]:
    """The findings that change a run's word: what blocks first."""
    blocking = [each for each in own if each.blocks]
    return blocking or [each for each in own if each.rule not in ABOUT_RECORDS]


def _by_findings(own: Sequence[Finding]) -> tuple[Word | None, str]:
    """The word that findings give, and the first of them in short; None where they give none."""
    telling = _telling(own)
    if not telling:
        return None, ""
    more = f" (and {len(telling) - 1} more)" if len(telling) > 1 else ""
    cause = f"; {telling[0].cause}" if telling[0].cause else ""
    return Word.STOP if telling[0].blocks else Word.LOOK, f"{telling[0].found}{cause}{more}"


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
