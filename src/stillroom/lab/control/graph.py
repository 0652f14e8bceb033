"""From the runs of control behaviour of a lab to the nodes of its graph of keys."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from stillroom.errors import StillroomError
from stillroom.lab.benches import Benches
from stillroom.lab.book import Book, Placed
from stillroom.lab.control.nodes import ControlNode, ControlRun
from stillroom.lab.judged import Excluded, Judged
from stillroom.methods.control import versions
from stillroom.records.keys import key_of


@dataclass(frozen=True)
class Controls:
    """The nodes of control behaviour, and the runs that belong to none, with why.

    `judged` holds (subject, key) of all that a decision can exclude, as it stands now.
    """

    controls: tuple[ControlNode, ...] = ()
    unplaced: tuple[tuple[Placed, str], ...] = ()
    judged: frozenset[Judged] = frozenset()


def controls_of(book: Book, placed: Iterable[Placed], excluded: Excluded, benches: Benches) -> Controls:
    """The nodes of all runs of control behaviour.

    Parameters
    ----------
    book : the lab's records. placed : the runs of control behaviour. excluded : by decisions.
    benches : of the lab, for the speed meter in force on each day.
    """
    groups: dict[tuple[str, str, str], list[ControlRun]] = defaultdict(list)
    unplaced: list[tuple[Placed, str]] = []
    for each in placed:
        if not each.fan:
            unplaced.append((each, "no fan is named for it"))
            continue
        try:
            key, used = benches.run(each)
        except StillroomError as error:
            unplaced.append((each, error.sentence()))
            continue
        speed, current = (used.bench.chain(name, recorded=True) for name in ("speed", "current"))
        run = ControlRun(key_of("control run", key, _told(each)), each, speed, current, used.calibrations)
        groups[each.mounting, each.fan, each.sample].append(run)
    made = [_node(book, group, runs, excluded) for group, runs in groups.items()]
    judged = {(f"run:{run.name}", run.key) for node in made for run in (*node.runs, *node.left_out)}
    judged |= {(f"mounting:{each.subject}", each.judged) for each in made}
    return Controls(tuple(each for each in made if each.runs), tuple(unplaced), frozenset(judged))


def _told(placed: Placed) -> tuple[Any, ...]:
    """What the method reads of a run beside its file."""
    frequency = placed.row.pwm_frequency if placed.row else None
    return placed.setting, placed.setting_kind, placed.date, frequency


def _node(
    book: Book, group: tuple[str, str, str], runs: Sequence[ControlRun], excluded: Excluded
) -> ControlNode:
    subject, fan, sample = group
    ordered = sorted(
        runs, key=lambda each: (each.placed.moment, each.placed.taken.file, each.placed.taken.part or 0)
    )
    judged = _key(subject, ordered)
    out = (f"mounting:{subject}", judged) in excluded
    used = tuple(each for each in ordered if not out and (f"run:{each.name}", each.key) not in excluded)
    return ControlNode(
        key=_key(subject, used),
        subject=subject,
        fan=fan,
        sample=sample,
        rig=ordered[0].placed.rig,
        date=ordered[0].placed.date,
        runs=used,
        left_out=tuple(each for each in ordered if each not in used),
        judged=judged,
        trials=book.settings.trials,
    )


def _key(subject: str, runs: Sequence[ControlRun]) -> str:
    return key_of("control", versions.MOUNTING, subject, [each.key for each in runs])
