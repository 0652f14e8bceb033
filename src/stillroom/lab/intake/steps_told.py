"""What is said of steps right after they came in: which wait for a run, and how the cuts of the others lie now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from stillroom import wording
from stillroom.lab.book import Book, Placed, open_book, place_all
from stillroom.lab.executor import Progress, silent
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.heat.steps import is_of
from stillroom.lab.intake.parts import setting_words
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import Reducing
from stillroom.records.acts import Step
from stillroom.store import results
from stillroom.store.lab import Lab


def waiting_steps(book: Book, before: Mapping[str, Step]) -> list[str]:
    """A line for the new steps of each session, mounting or fan of which the lab has no heat run (yet).

    Parameters
    ----------
    before : the steps that stood before.
    """
    heats = [each for each in place_all(book) if each.is_heat and each.fan]
    waiting: dict[tuple[str, str], list[Step]] = {}
    for step in book.steps.values():
        if before.get(step.name) != step and not any(_belongs(step, each) for each in heats):
            waiting.setdefault(_whose(step), []).append(step)
    return [
        f"{wording.plural(len(steps), 'step')} of {what} {name}: no heat run of it yet, "
        f"{'it waits' if len(steps) == 1 else 'they wait'} for one{_known(what, heats)}"
        for (what, name), steps in waiting.items()
    ]


def _belongs(step: Step, placed: Placed) -> bool:
    return step.session == placed.session if step.session else is_of(step, placed)


def _whose(step: Step) -> tuple[str, str]:
    what = "session" if step.session else "mounting" if step.mounting else "fan"
    return what, step.of


def _known(what: str, heats: Iterable[Placed]) -> str:
    """The sessions or mountings that there are, for who mistyped one."""
    names = list(dict.fromkeys(name for each in heats if (name := str(getattr(each, what)))))
    return f" ({what}s that there are: {wording.listed(names, most=4)})" if names else ""


def moved_cuts(
    lab: Lab, before: Mapping[str, Step], but: Iterable[str] = (), progress: Progress = silent
) -> list[str]:
    """A line for each mounting whose settings steps told anew: where its cuts lay, and where they lie now.

    Parameters
    ----------
    before : the steps that stood before. but : runs that are new themselves: of them there is no before.

    Raises
    ------
    LabDamaged : an original is missing or was changed.
    """
    book, new = open_book(lab), set(but)
    earlier = {each.subject: each for each in build_graph(replace(book, steps=before)).heats}
    pairs = [
        (earlier[each.subject], each)
        for each in build_graph(book).heats
        if each.subject in earlier
        and each.steps_told != earlier[each.subject].steps_told
        and not new & {log.name for log in each.logs}
    ]
    Reducing(lab, progress=progress).heats([node for pair in pairs for node in pair])
    return [
        f"cuts of {node.subject}: before {_cuts(lab, was)}; now {_cuts(lab, node)}" for was, node in pairs
    ]


def _cuts(lab: Lab, node: HeatNode) -> str:
    result = results.get(lab.database, node.key)
    cuts: Sequence[Mapping[str, Any]] = result.body.get("cuts", ()) if result else ()
    return ", ".join(map(_cut, cuts)) or "none"


def _cut(cut: Mapping[str, Any]) -> str:
    """From when to when [min], at which setting, and by what it was found."""
    at = f" at {setting_words(cut['kind'], repr(cut['setting']))}" if cut["setting"] is not None else ""
    return f"{cut['first'] / 60.0:.1f} to {cut['last'] / 60.0:.1f} min{at} ({cut['by']})"
