"""What is said of a test of the control right after it came in: where the fan starts and stops, its findings first."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from stillroom import wording
from stillroom.core.control.control_mounting import Behaviour, ControlMounting, Drive
from stillroom.core.speeds import setting_words
from stillroom.errors import NotPossible
from stillroom.lab.control.loading import load_control
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.curves import result_of
from stillroom.lab.intake.checked import Checked, Word, by_findings
from stillroom.lab.recipes import Graph
from stillroom.lab.reducing import Reducing
from stillroom.quality import Finding
from stillroom.readers.words.kinds import Kind
from stillroom.store.lab import Lab


def tested_controls(graph: Graph, runs: Collection[str], reducing: Reducing) -> dict[str, ControlNode]:
    """Work out the control of the mountings that some runs belong to, {run: its mounting}."""
    holding = {run.name: node for node in graph.controls for run in node.runs if run.name in runs}
    wanted = list({node.key: node for node in holding.values()}.values())
    reducing.controls(wanted)
    return holding


def check_controls(lab: Lab, holding: Mapping[str, ControlNode], found: Sequence[Finding]) -> list[Checked]:
    """One word for each run of control; what is found of its mounting is said of the mounting's first run.

    Parameters
    ----------
    holding : what `tested_controls` gave. found : the findings that nobody has decided.
    """
    return [_checked(lab, node, run, found) for run, node in holding.items()]


def _checked(lab: Lab, node: ControlNode, run: str, found: Sequence[Finding]) -> Checked:
    placed = next(each.placed for each in node.runs if each.name == run)
    subjects = {f"run:{run}"} | ({f"mounting:{node.subject}"} if run == node.runs[0].name else set())
    is_own = [each for each in found if each.subject in subjects and node.fan in each.fans]
    own = tuple(each for each in is_own if not each.mountings or node.blocked_as in each.mountings)
    word, reason = by_findings(own)
    if word is not None:
        return Checked(placed, word, wording.in_lab_units(reason, lab.settings.units), own)
    try:
        control = load_control(lab.path, result_of(lab, node))
    except NotPossible as error:
        return Checked(placed, Word.LOOK, error.found or error.sentence(), own)
    said = "; ".join(_words(control, Kind(placed.taken.content)))
    return Checked(placed, Word.FIRST, said or "nothing to compare it with yet", own)


def _words(control: ControlMounting, kind: Kind) -> Iterator[str]:
    """What a table of a kind has shown."""
    if kind is Kind.INRUSH and control.inrush:
        yield f"inrush {wording.bare(control.inrush.peak)} A"
    for drive in control.drives.values():
        if kind is Kind.START_TESTS:
            yield from (
                f"{each.started} of {each.attempts} started at {setting_words(drive.kind, each.setting)}, which proves"
                f" {100 * each.bound:.0f} %"
                for each in drive.starts
            )
        elif kind is Kind.CONTROL_STEPS and drive.full is not None:
            yield f"{60 * drive.full:,.0f} rpm at {setting_words(drive.kind, drive.full_setting or 0.0)}"
            yield from _low_end(drive)


def _low_end(drive: Drive) -> Iterator[str]:
    if drive.behaviour in (Behaviour.KEEPS_MINIMUM, Behaviour.OFF_AT_ZERO, Behaviour.FULL_AT_ZERO):
        yield drive.behaviour.value
    elif drive.stop and drive.stop.low is not None and drive.stop.high is not None:
        low, high = (setting_words(drive.kind, each) for each in (drive.stop.low, drive.stop.high))
        yield f"stops between {low} and {high}"
