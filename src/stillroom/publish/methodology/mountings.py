"""How samples were mounted: on which days, in which order, how often again, and what the reference fan said."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

from stillroom import wording
from stillroom.core.control_chart import ESTABLISHED
from stillroom.lab.blocking import open_blocks
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.eras.rig_nodes import moment_of
from stillroom.lab.eras.watch_facts import check_facts
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import AnyNode
from stillroom.publish.document import Block, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import NOT_TOLD, days, names, several

TITLE = "Mounting, order and checks"

MOST_DAYS = 60
"""So many days of a rig are listed with the order of their fans; of more only their number is told."""

REPEAT_RULE = 39
"""The rule that asks for the first setting once more."""

HEARD_ON = {Purpose.AIRFLOW: "in the chamber", Purpose.SOUND: "in the quiet room", Purpose.HEAT: "on the heat rig",
            Purpose.CONTROL: "on the control bench"}  # fmt: skip


def mounting_and_order(facts: Facts) -> Iterator[Block]:
    """What a mounting is, how many there were, their order day by day, repeats, and the reference fan."""
    yield Heading(1, TITLE)
    yield Paragraph(
        "A mounting is one act of fitting a sample to a rig. Mountings and samples are what is counted: readings of one"
        " mounting, however many, never stand for another one."
    )
    yield Grid(
        ("Measured", "Fans", "Samples", "Mountings", "Samples mounted again", "Days"),
        tuple(_purpose(facts, purpose, nodes) for purpose, nodes in facts.by_purpose.items()),
        right=(1, 2, 3, 4),
        caption="Mountings that are used",
    )
    if by := sorted({each.by for each in facts.book.mountings.values() if each.by}):
        yield Paragraph(wording.stopped(f"Mounted by {names(by)}"))
    yield Heading(2, "Order")
    yield from _order(facts)
    yield Heading(2, "Repeats")
    yield Paragraph(_repeats(facts))
    yield Heading(2, "Reference fan")
    yield from _reference(facts)


def _purpose(facts: Facts, purpose: Purpose, nodes: Sequence[AnyNode]) -> tuple[str, ...]:
    mounted: dict[str, set[str]] = defaultdict(set)
    for each in nodes:
        mounted[f"{each.fan}/{each.sample}"].add(each.subject)
    again = sum(len(each) > 1 for each in mounted.values())
    fans = {each.fan for each in nodes}
    counts = (len(fans), len(mounted), len(nodes), again)
    return purpose.value, *(wording.number(each) for each in counts), days(facts.all_days(nodes))


def _order(facts: Facts) -> Iterator[Block]:
    """Rig by rig, the samples of each day in their order; a rig of which no day is told in one line."""
    by_rig: dict[str, dict[str, list[AnyNode]]] = defaultdict(lambda: defaultdict(list))
    for each, day in zip(facts.nodes, facts.all_days(facts.nodes), strict=True):
        by_rig[each.rig][day].append(each)
    rows: list[tuple[str, str, str]] = []
    for rig, of_day in sorted(by_rig.items()):
        name, known = rig or "rig not told", {day: nodes for day, nodes in of_day.items() if day}
        if not known:
            rows.append((name, NOT_TOLD, NOT_TOLD))
        elif len(known) > MOST_DAYS:
            rows.append((name, days(known), f"{wording.plural(len(known), 'day')}, see the open data"))
        else:
            rows += [(name, day, _in_order(known[day])) for day in sorted(known)]
    if all(day == NOT_TOLD for _, day, _ in rows):
        yield Paragraph("Neither the days nor the order of measuring were told.")
        return
    yield Paragraph(
        "The order is that in which the files say that samples were measured. It was not randomised by this program."
    )
    yield Grid(("Rig", "Day", "Samples in their order"), tuple(rows), caption="Order of measuring")


def _in_order(nodes: Sequence[AnyNode]) -> str:
    ordered = sorted(nodes, key=lambda each: (_moment(each), each.subject))
    return ", ".join(dict.fromkeys(wording.isolate(f"{each.fan}/{each.sample}") for each in ordered))


def _moment(node: AnyNode) -> str:
    return node.runs[0].placed.moment if isinstance(node, ControlNode) else moment_of(node)


def _repeats(facts: Facts) -> str:
    """How often the same sample was mounted again, and what the rule on repeats of the first setting found."""
    found = [each for each in facts.contents.whole.found if each.rule == REPEAT_RULE]
    blocked = sum(each.blocks for each in found)
    said = (
        "The rules ask that the first setting be run once more at the end of a mounting: where it reads otherwise than"
        " at the beginning, something moved in between."
    )
    if not found:
        return f"{said} Nothing was found there."
    parts = [f"{several(blocked, 'repeat')} differed too much"] if blocked else []
    without = len(found) - blocked
    parts += (
        [f"{several(without, 'finding')} that a repeat is missing, or differs a little"] if without else []
    )
    return f"{said} {wording.sentence('; '.join(parts))}"


# --- the reference fan ---------------------------------------------------------------------------------------


def _reference(facts: Facts) -> Iterator[Block]:
    """The checks of each rig by the reference fan; what isn't there is said."""
    contents = facts.contents
    if not contents.settings.reference_fan:
        yield Paragraph("No reference fan was named: a slow drift of a rig would go unseen.")
        return
    book, graph = facts.book, contents.whole.graph
    name = reference_name(book, graph)
    blocked = open_blocks(contents.whole.found, book.decisions)
    rows = [_checks(facts, rig, blocked) for rig, purpose in sorted(facts.rigs.items())
            if purpose is not Purpose.CONTROL]  # fmt: skip
    yield Paragraph(
        f"The reference fan is {wording.isolate(name)}. Each time that it is mounted is a check of the rig. Limits"
        f" stand from {ESTABLISHED} checks on; before that none are established."
    )
    yield Grid(
        ("Rig", "Checks", "Valid", "With a signal", "Days"),
        tuple(rows),
        right=(1, 2, 3),
        caption="Checks by the reference fan",
    )


def _checks(facts: Facts, rig: str, blocked: Mapping[str, str]) -> tuple[str, ...]:
    found = check_facts(facts.contents.lab, facts.book, facts.contents.whole.graph, rig, blocked)
    signals = sum(any(each.signals.values()) for each in found)
    counts = (len(found), sum(each.good for each in found), signals)
    return rig or NOT_TOLD, *(wording.number(each) for each in counts), days([each.day for each in found])
