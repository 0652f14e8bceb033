"""The half page in plain words on top: for somebody who wants to buy a fan and has never seen a laboratory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from stillroom import wording
from stillroom.lab import versions
from stillroom.lab.purposes import Purpose
from stillroom.lab.ranking_words import margin_words
from stillroom.lab.registering import Registered
from stillroom.measures import Origin
from stillroom.publish.contents import Published
from stillroom.publish.document import Block, Bullets, Heading, Paragraph, Span, emphasis
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import as_told, names, several
from stillroom.vocabulary import BY_NAME

TITLE = "In plain words"

MEASURED = {
    Purpose.AIRFLOW: "how much air they move and against what pressure",
    Purpose.SOUND: "how loud they are",
    Purpose.HEAT: "how well they cool a radiator",
    Purpose.CONTROL: "how they answer their control",
}
"""What is measured for a purpose, as a sentence goes on."""

MISSING = {
    Purpose.AIRFLOW: "We did not measure airflow: nothing here says how much air a fan moves.",
    Purpose.SOUND: "We did not measure sound: nothing here says which fan is quieter.",
    Purpose.HEAT: "We did not measure temperatures: nothing here says which fan cools better.",
    Purpose.CONTROL: "We did not test the control: nothing here says how slowly a fan can run.",
}
"""What can't be said where nothing was measured for a purpose."""


def plain_words(facts: Facts) -> Iterator[Block]:
    """What was measured, how it was compared, what the two verdicts mean, and what can't be said."""
    yield Heading(1, TITLE)
    yield Paragraph((emphasis("What was measured. "), Span(_measured(facts))))
    yield Paragraph((emphasis("How fans were compared. "), Span(_compared(facts))))
    yield Paragraph((emphasis("Ahead "), Span(_ahead(facts))))
    yield Paragraph((
        emphasis("Too close to call "),
        Span(
            "means everything else: the gap is too small for us to be sure of it, or too small for you to notice. Such"
            " fans are not proven to be equal, and the order among them tells you nothing."
        ),
    ))  # fmt: skip
    yield Paragraph((emphasis("What can’t be said."),))
    yield Bullets(tuple(_not_said(facts)))


def _measured(facts: Facts) -> str:
    samples = sum(map(len, facts.samples.values()))
    what = wording.listed([MEASURED[each] for each in facts.by_purpose])
    mountings = len(facts.nodes)
    again = " Each time a fan is fitted to a rig counts as one mounting; there were"
    return (
        f"We measured {wording.plural(len(facts.fans), 'fan')}, {several(samples, 'sample')} in all: {what}."
        f"{again} {wording.count(mountings)}." if mountings != 1 else
        f"We measured one fan, one sample of it, fitted to a rig once: {what}."
    )  # fmt: skip


def _compared(facts: Facts) -> str:
    """How, from what the published measures ask for."""
    published = facts.contents.published
    said: list[str] = []
    limits = {
        each.asked.condition.noise: each for each in published if each.asked.condition.noise is not None
    }
    if limits:
        words = [str(limits[each].ranking.conditions.get("speed") or "") for each in sorted(limits)]
        levels = wording.listed([each.partition(" at ")[0] for each in words], last="or")
        at = wording.listed(sorted({each.partition(" at ")[2] for each in words} - {""}), last="or")
        said.append(
            "Most fans can be turned up or down. So we compare them at the same noise: each runs just as fast as makes"
            f" {levels}{f' at {at}' if at else ''}, and what counts is what it does then."
        )
    if obstacles := sorted(
        {each.asked.condition.obstacle for each in published if each.asked.condition.obstacle}
    ):
        through = wording.listed([_obstacle(facts, each) for each in obstacles], last="or")
        said.append(f"Where we say so, the air has to pass an obstacle, as it does in a computer: {through}.")
    asked = [each.asked for each in published]
    if any(_at_full(each.condition) and each.measure.origin is not Origin.CONTROL for each in asked):
        also = "Fans are also compared" if limits else "Fans are compared"
        said.append(f"{also} at full speed.")
    if speeds := sorted({each.condition.speed for each in asked if each.condition.speed is not None}):
        said.append(
            f"Some comparisons are at {wording.listed([as_told(60.0 * each) for each in speeds])} rpm."
        )
    said.append("All fans of a comparison were measured and worked out in the same way.")
    return " ".join(said)


def _obstacle(facts: Facts, name: str) -> str:
    """An obstacle by its name, with its description where one is told."""
    record = versions.record_of(facts.book.obstacles, name)
    told_ = (record.description or record.type) if record else None
    return f"{wording.isolate(name)} ({told_})" if told_ else wording.isolate(name)


def _at_full(condition: object) -> bool:
    names_ = ("speed", "duty", "volts", "noise", "sone", "for_flow", "for_heat")
    return all(getattr(condition, each) is None for each in names_)


def _ahead(facts: Facts) -> str:
    """What "ahead" means, with the margins, and whether they were fixed before the data."""
    published = facts.contents.published
    margins: dict[str, list[str]] = {}
    for each in published:
        label = _of(BY_NAME[each.measure.quantity].label)
        margins.setdefault(margin_words(each.ranking.margin, each.ranking.unit), []).append(label)
    gaps = wording.listed(
        [f"{size} of {wording.listed(sorted(set(of)), last='or')}" for size, of in margins.items()]
    )
    return (
        "means two things at once: the gap between two fans is larger than what our measurement can be wrong by, and it"
        f" is large enough that you would notice it. We take you to notice {gaps}. {_fixed(published)}"
    )


BEFORE = ("We fixed these sizes before we measured.", "we fixed this before we measured")
IN_TIME = ("We wrote these sizes down before the data came in.", "we wrote this down before the data came in")
NO_RECORD = (
    "There is no record that we fixed these sizes before we measured.",
    "there is no record that we did",
)
"""When margins were fixed, as a sentence of all comparisons, and of some as a sentence goes on."""


def _fixed(published: Sequence[Published]) -> str:
    """Whether the margins were fixed before the data."""
    counted = Counter(_when(each.registered) for each in published)
    if len(counted) == 1:
        return next(iter(counted))[0]
    said: list[str] = []
    for when in (BEFORE, IN_TIME, NO_RECORD):
        if counted[when]:
            whose = f"{counted[when]} of {len(published)} comparisons" if not said else f"{counted[when]}"
            said.append(f"for {whose} {when[1]}")
    return wording.sentence("; ".join(said))


def _when(registered: Registered | None) -> tuple[str, str]:
    """When a comparison's margin was fixed, by the journal's order; data may bear a date earlier than their arrival."""
    if registered is None or registered.margin is None or registered.late:
        return NO_RECORD
    return BEFORE if registered.is_before else IN_TIME


def _of(title: str) -> str:
    """A quantity's label within a sentence; an abbreviation keeps its capitals."""
    return title if title[1:2].isupper() else title[0].lower() + title[1:]


def _not_said(facts: Facts) -> Iterator[str]:
    single = [fan for fan, own in facts.samples.items() if len(own) == 1]
    if single and len(single) == len(facts.samples):
        yield "We had one sample of each fan. The one you buy may be a little better or worse."
    elif single:
        yield (
            f"Of {wording.plural(len(single), 'fan')} we had one sample only: {names(single)}. The one you buy may be a"
            " little better or worse."
        )
    else:
        yield "Samples of one fan differ. The one you buy may be a little better or worse."
    yield from (words for purpose, words in MISSING.items() if not facts.did(purpose))
    if facts.did(Purpose.SOUND):
        yield "Decibels hold at our microphone, in our quiet room. In your computer the number will be another one."
    if facts.did(Purpose.HEAT):
        yield "Temperatures hold on our heat rig. Yours will differ; compare fans with each other."
    yield "How long a fan lasts, and whether you like its sound, we did not measure."
