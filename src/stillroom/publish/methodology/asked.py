"""What was asked, and the measures that are published: definition, condition, margin, and whether registered."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom import wording
from stillroom.lab.ranking_words import margin_words
from stillroom.lab.registering import NOT_REGISTERED
from stillroom.publish.contents import Published
from stillroom.publish.document import Block, Bullets, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import NOT_TOLD

TITLE = "The question and the measures"

NO_QUESTION = "No question was written down for this release: it tells what the laboratory has measured."


def what_was_asked(facts: Facts) -> Iterator[Block]:
    """The question, the measures with their margins, and what was known when they were fixed."""
    contents = facts.contents
    yield Heading(1, TITLE)
    yield Paragraph(contents.question or NO_QUESTION)
    if contents.highlight:
        yield Paragraph(f"The fan under review is {wording.isolate(contents.highlight)}.")
    if contents.corrects:
        yield Paragraph(f"This release corrects the release {wording.isolate(contents.corrects)}.")
    yield Grid(
        ("Measure", "Better", "Margin", "Fans ranked", "Registered"),
        tuple(_row(each) for each in contents.published),
        right=(3,),
        caption="What is published",
        notes=(
            "The margin is the smallest difference that counts: a smaller one is never called ahead, however sure it"
            " is.",
        ),
    )
    yield from _registering(contents.published)
    yield Heading(2, "Definitions")
    yield Grid(
        ("Measure", "Definition", "Version"),
        tuple(_definitions(contents.published)),
        right=(2,),
        caption="What each measure means",
    )
    yield Heading(2, "Conditions")
    yield Grid(
        ("Measure", "Compared under"),
        tuple((wording.listed(titles), told) for told, titles in _alike(contents.published).items()),
        caption="Under what fans were compared",
    )


def _row(each: Published) -> tuple[str, ...]:
    found = each.ranking
    registered = each.registered.words.removeprefix("registered ") if each.registered else NOT_REGISTERED
    margin = margin_words(found.margin, found.unit)
    return each.title, each.measure.merit.value, margin, wording.number(len(found.standings)), registered


def _registering(published: tuple[Published, ...]) -> Iterator[Block]:
    """What registering means, and what must be said of the margins beside it."""
    known = [each for each in published if each.registered]
    if not known:
        yield Paragraph(
            "None of these measures was registered in a round: there is no record that they, and their margins, were"
            " fixed before the data."
        )
        return
    rounds = wording.listed(sorted({each.registered.round for each in known if each.registered}))
    yield Paragraph(
        f"Measures are registered by entries in the laboratory’s journal, here in {rounds}. Whether an entry came"
        " before the data is told by the order of the journal, not by a date that somebody typed."
    )
    said = [
        f"{each.title}: {words}."
        for each in known
        if each.registered and (words := each.registered.margin_words)
    ]
    late = [
        f"{each.title}: data of {wording.listed(each.registered.late)} had come in before."
        for each in known
        if each.registered and each.registered.late
    ]
    if said or late:
        yield Bullets((*said, *late))


def _definitions(published: tuple[Published, ...]) -> Iterator[tuple[str, ...]]:
    """Each measure's definition once, in the words of its ranking: these name another density where one was asked."""
    seen: set[tuple[str, str]] = set()
    for each in published:
        told = (each.measure.title, each.ranking.definition)
        if told not in seen:
            seen.add(told)
            yield *told, each.ranking.version


LIMIT = "this limit"
"""What stands for a noise limit where several measures are told together."""


def _alike(published: tuple[Published, ...]) -> dict[str, list[str]]:
    """{conditions: titles of the measures that were compared under them}, those at several noise limits together."""
    found: dict[str, list[str]] = {}
    for each in published:
        found.setdefault(_conditions(each), []).append(each.title)
    return found


def _conditions(each: Published) -> str:
    told = {
        name: str(value) for name, value in each.ranking.conditions.items() if value not in (None, "", False)
    }
    limit = told.get("speed", "").partition(" at ")[0] if each.asked.condition.is_limited else ""
    if limit:
        told = {name: value.replace(limit, LIMIT) for name, value in told.items()}
    return "; ".join(f"{name} {value}" for name, value in told.items()) or NOT_TOLD
