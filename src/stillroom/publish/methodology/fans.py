"""The fans and their samples: what was measured, where it came from, how often it was mounted."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom import wording
from stillroom.publish.document import Block, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import NOT_TOLD, as_told, from_si_told, names, told
from stillroom.records.products import Sample

TITLE = "Fans and samples"

HOUR = 3600.0


def fans_and_samples(facts: Facts) -> Iterator[Block]:
    """Two tables, and what single samples mean."""
    yield Heading(1, TITLE)
    yield Grid(
        ("Fan", "Maker", "Model", "Size", "Thickness", "Samples", "Mountings"),
        tuple(_fan(facts, each) for each in facts.fans),
        right=(3, 4, 5, 6),
        caption="Fans",
    )
    yield Grid(
        ("Sample", "Came", "From", "Lot", "Condition", "Hours", "Mountings"),
        tuple(_sample(facts, fan, each) for fan, own in facts.samples.items() for each in own),
        right=(5, 6),
        caption="Samples",
        notes=("Hours are those that a sample had run when it was registered.",),
    )
    single = [fan for fan, own in facts.samples.items() if len(own) == 1]
    if single:
        spread = "borrowed from fans with several" if len(single) < len(facts.samples) else "assumed"
        yield Paragraph(
            f"{wording.sentence(f'one sample was measured of {names(single)}')} How much samples of one fan differ is"
            f" then {spread}, and widens the interval; it stands under Uncertainty."
        )
    missing = [f"{fan}/{each}" for fan, own in facts.samples.items() for each in own
               if f"{fan}/{each}" not in facts.book.samples]  # fmt: skip
    if missing:
        yield Paragraph(
            f"No record tells where these samples came from: {names(missing)}. Their numbers are marked."
        )
    idle = sorted(set(facts.book.fans) - set(facts.fans))
    if idle:
        yield Paragraph(f"Known to the laboratory, but not measured or all of it left out: {names(idle)}.")


def _fan(facts: Facts, fan: str) -> tuple[str, ...]:
    record = facts.book.fans.get(fan)
    own = [each for each in facts.nodes if each.fan == fan]
    return (
        fan,
        told(record.maker if record else None),
        told(record.model if record else None),
        from_si_told(record.size if record else None, "mm"),
        from_si_told(record.thickness if record else None, "mm"),
        wording.number(len(facts.samples[fan])),
        wording.number(len(own)),
    )


def _sample(facts: Facts, fan: str, sample: str) -> tuple[str, ...]:
    record: Sample | None = facts.book.samples.get(f"{fan}/{sample}")
    mountings = sum(each.fan == fan and each.sample == sample for each in facts.nodes)
    hours = record.hours if record else None
    return (
        f"{fan}/{sample}",
        f"bought {record.bought}" if record and record.bought else NOT_TOLD,
        told(record.shop if record else None),
        told(record.lot if record else None),
        told(record.condition if record else None),
        NOT_TOLD if hours is None else as_told(hours / HOUR),
        wording.number(mountings),
    )
