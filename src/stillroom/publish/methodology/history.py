"""What lies behind the numbers in time: eras of rigs and bridges, legacy numbers, and what was left out and why."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom import wording
from stillroom.compare.standing import BridgeNote
from stillroom.lab.eras.eras import eras_of
from stillroom.lab.purposes import Purpose
from stillroom.lab.ranking_words import without_lines
from stillroom.publish.document import Block, Bullets, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import NOT_TOLD, as_told, names, several, told
from stillroom.records.products import Legacy

ERAS, LEFT_OUT = "Eras, bridges and old numbers", "What was left out"


def eras_and_legacy(facts: Facts) -> Iterator[Block]:
    """The eras of each rig, the bridges between them, and numbers without raw data."""
    yield Heading(1, ERAS)
    yield Paragraph(
        "An era of a rig lies between two events that can move its results. Numbers of two eras stand side by side only"
        " over a bridge: samples that were measured in both say by how much the rig reads otherwise, and the"
        " uncertainty of that is added."
    )
    several_ = [(rig, eras) for rig in sorted(facts.rigs) if len(eras := eras_of(facts.book, rig)) > 1]
    if several_:
        yield Grid(
            ("Rig", "Era", "Began", "With"),
            tuple(
                (
                    rig or NOT_TOLD,
                    wording.number(each.number),
                    each.began[:10] or "with the first run",
                    each.why or "",
                )
                for rig, eras in several_
                for each in eras
            ),
            right=(1,),
            caption="Rigs with several eras",
        )
    else:
        yield Paragraph("Every rig has one era: no event that can move results was written down.")
    yield from _bridges(facts)
    yield Heading(2, "Legacy numbers")
    yield from _legacy(facts)


def _bridges(facts: Facts) -> Iterator[Block]:
    """The bridges on which published numbers rest, each once."""
    notes = {each.key: (one.title, each) for one in facts.contents.published for each in one.ranking.bridges}
    if notes:
        yield Grid(
            ("Used in", "Rig", "From era to era", "Values were changed by", "Rests on", "Samples agree"),
            tuple(_bridge(title, each) for title, each in notes.values()),
            caption="Bridges, with 95 % intervals",
        )
    else:
        yield Paragraph("No published number rests on a bridge.")


def _bridge(title: str, each: BridgeNote) -> tuple[str, ...]:
    before, after = each.mountings
    rests = f"{names(each.samples)}: {several(before, 'mounting')} before, {wording.count(after)} after"
    agree = "yes" if each.agree else "no"
    return (
        title,
        each.rig or NOT_TOLD,
        f"{each.era[0]} to {each.era[1]}, {each.event}",
        each.words,
        rests,
        agree,
    )


def _legacy(facts: Facts) -> Iterator[Block]:
    own = sorted(facts.book.legacy.values(), key=lambda each: each.name)
    if not own:
        yield Paragraph("There are none.")
        return
    yield Paragraph(
        "These are finished numbers from before, without raw data. They can’t be followed to readings; where they stand"
        " in a ranking they are marked, stand under the measured fans and have no rank."
    )
    yield Grid(
        ("Fan", "Measure", "Value", "95 % interval", "Under", "Day", "Method", "Source"),
        tuple(_number(each) for each in own),
        right=(2,),
        caption="Legacy numbers",
    )


def _number(each: Legacy) -> tuple[str, ...]:
    ends = (
        NOT_TOLD
        if each.low is None or each.high is None
        else f"{as_told(each.low)} to {as_told(each.high, each.unit)}"
    )
    under = " ".join(
        part
        for part in (
            f"through {each.obstacle}" if each.obstacle else "",
            f"at {each.setting or 'full setting'}",
        )
        if part
    )
    value = as_told(each.value, each.unit)
    return each.fan, each.measure, value, ends, under, told(each.date), told(each.method), told(each.source)


# --- what was left out ---------------------------------------------------------------------------------------


def left_out(facts: Facts) -> Iterator[Block]:
    """Fans without a number, files that could not be used, and what a fit put aside; decisions stand elsewhere."""
    yield Heading(1, LEFT_OUT)
    said = [*_unranked(facts), *_unplaced(facts), *_could_not(facts), *_put_aside(facts)]
    exclusions = "What a person decided to leave out stands with the quality rules."
    if said:
        yield Paragraph(f"{exclusions} Beside that:")
        yield Bullets(tuple(said))
    else:
        yield Paragraph(f"{exclusions} Beside that nothing was left out.")


def _unranked(facts: Facts) -> Iterator[str]:
    for each in facts.contents.published:
        for line in without_lines(each.ranking.excluded):
            yield f"{each.title}: {wording.stopped(line[0].lower() + line[1:])}"


def _unplaced(facts: Facts) -> Iterator[str]:
    for placed, why in facts.contents.whole.graph.unplaced:
        yield f"File {wording.isolate(placed.taken.words)}, which can’t be placed: {wording.stopped(why)}"


def _could_not(facts: Facts) -> Iterator[str]:
    for each in (*facts.nodes, *facts.obstacles):
        found = facts.results.get(each.key)
        if found is not None and found.failed:
            yield f"{each.kind} {wording.isolate(each.subject)}: {wording.stopped(found.failed)}"


def _put_aside(facts: Facts) -> Iterator[str]:
    """Sweeps and readings that the fit of a curve left out, by fan."""
    for node, body in facts.good(facts.by_purpose.get(Purpose.AIRFLOW, ())):
        sweeps = sum(each["dropped"] for each in body["curve"]["sweeps"])
        points = len(body["curve"]["held"])
        parts = [several(sweeps, "sweep")] if sweeps else []
        parts += [several(points, "reading")] if points else []
        if parts:
            yield (
                f"Mounting {wording.isolate(node.subject)}: {wording.listed(parts)} that the other sweeps of the"
                " mounting contradict, not used in the fit."
            )
