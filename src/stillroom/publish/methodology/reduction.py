"""From readings to results: the steps that the lab's data went through, with their formulas and sources."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom import wording
from stillroom.lab.recipes import AnyNode
from stillroom.publish.document import Block, Heading, Paragraph, Span, code, emphasis
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.steps_table import STEPS, Chapter
from stillroom.publish.methodology.words import as_told

TITLE = "From readings to results"

AT_HAND = (
    "The texts of the standards themselves were not at hand in all cases: what was transcribed from public sources that"
    " cite them, and what rests on memory, says so. Symbols keep the standards’ letters."
)

RULES = {
    "highest": "The speed at a noise limit is the highest at which the level is at or under the limit.",
    "never exceeded": "The speed at a noise limit is the highest up to which the limit is never exceeded.",
}
"""What the lab's rule of the speed at a noise limit says."""


def from_readings(facts: Facts) -> Iterator[Block]:
    """A part for each kind of measurement, none for what was not done."""
    done = [each for each in STEPS if each.done(facts)]
    yield Heading(1, TITLE)
    yield Paragraph(AT_HAND)
    for chapter in Chapter:
        own = [each for each in done if each.chapter is chapter]
        if not own:
            continue
        yield Heading(2, chapter.value)
        if methods := sorted({node.method for node in _nodes(facts, chapter)}):
            versions = [part for each in methods for part in (code(each), Span(", "))][:-1]
            yield Paragraph((Span("Methods with their versions: "), *versions, Span(".")))
        for each in own:
            source = f" Source: {each.source.replace('`', '')}." if each.source else ""
            yield Paragraph((emphasis(f"{each.name}. "), Span(each.words + source)))
            yield from (one.formula for one in each.formulas(facts))
        yield from _of_the_lab(facts, chapter)


def _nodes(facts: Facts, chapter: Chapter) -> Iterator[AnyNode]:
    own = [
        node
        for purpose, nodes in facts.by_purpose.items()
        if purpose.value.title() == chapter.value
        for node in nodes
    ]
    yield from own
    yield from facts.obstacles if chapter is Chapter.AIRFLOW else ()


def _of_the_lab(facts: Facts, chapter: Chapter) -> Iterator[Block]:
    """What the laboratory set for a chapter."""
    settings = facts.contents.settings
    if chapter is Chapter.SOUND and any(each.asked.condition.is_limited for each in facts.contents.published):
        yield Paragraph(RULES[settings.sound.rule])
    if chapter is Chapter.HEAT:
        yield Paragraph(f"The tolerance of steadiness is {as_told(settings.heat.tolerance, 'K')}.")
    if chapter is Chapter.COMPARING:
        yield Paragraph(f"Number of draws of each source: {wording.number(settings.trials)}.")
