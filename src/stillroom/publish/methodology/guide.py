"""The guide: cautions for whoever wants to do the same, those that concern the rigs that were used.

Their words stand in `lab/sound/cautions.py` alone; here it is told which of them concern which rig.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from stillroom.lab.purposes import Purpose
from stillroom.lab.sound.cautions import CAUTIONS, HEADER, Caution
from stillroom.publish.document import (
    Block,
    Bullets,
    Callout,
    CalloutKind,
    Heading,
    Paragraph,
    Span,
    emphasis,
)
from stillroom.publish.methodology.facts import Facts

TITLE = "If you want to do the same"

EVERYWHERE = frozenset(Purpose)

CONCERNS: dict[str, Collection[Purpose]] = {
    "Mains heat load (about 300 W)": {Purpose.HEAT},
    "Liquid near electricity": {Purpose.HEAT},
    "Hot surfaces": {Purpose.HEAT},
    "Rotors": EVERYWHERE,
    "Optical tachometer": EVERYWHERE,
    "Compressed air and doors moved by it": {Purpose.AIRFLOW},
    "Hearing": {Purpose.AIRFLOW, Purpose.SOUND},
    "Quiet room": {Purpose.SOUND},
    "DC supplies": EVERYWHERE,
    "Stop rule": EVERYWHERE,
}
"""Which cautions concern rigs for what, by what they are about: a chamber's blower is loud, a calibrator too."""


def guide(facts: Facts) -> Iterator[Block]:
    """The header of every sheet, and the cautions that concern the rigs."""
    yield Heading(1, TITLE)
    yield Callout(CalloutKind.CAUTION, HEADER)
    yield Paragraph("Usual cautions of the trade; where a rule is named, the local one governs.")
    yield Bullets(
        tuple((emphasis(f"{each.about}: "), Span(each.words)) for each in cautions_for(facts.by_purpose))
    )


def cautions_for(purposes: Collection[Purpose]) -> tuple[Caution, ...]:
    """The cautions that concern rigs for some purposes, in their order."""
    return tuple(each for each in CAUTIONS if any(one in CONCERNS[each.about] for one in purposes))
