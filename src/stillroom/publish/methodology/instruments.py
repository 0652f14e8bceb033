"""Rigs and instruments: with each its calibrations, certificate, uncertainty and when it is due."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom import wording
from stillroom.core.sound.calibration import class_1_uncertainty
from stillroom.lab.purposes import Purpose
from stillroom.lab.sound.nodes import SoundNode
from stillroom.methods.airflow.bench import ASSUMED_AIR, UNRECORDED, UNTOLD_ACCURACY
from stillroom.methods.airflow.chain import Chain
from stillroom.publish.document import Block, Bullets, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts, Used
from stillroom.publish.methodology.words import (
    NOT_TOLD,
    as_told,
    difference,
    names,
    percent,
    quantity_words,
    several,
    told,
)
from stillroom.records.bench import ALWAYS, Instrument, Rig
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

TITLE = "Rigs and instruments"

NO_RIG = "No rig was named for these runs."

EXACT = "none told, none taken"
"""Of an instrument whose calibration tells no uncertainty, and of which no limits were taken."""

METERED = frozenset({"flow", "static_pressure", "nozzle_pressure", "resistance_pressure", "speed", "current"})
"""What is measured in a chamber; for what of these no instrument is named, the rig's one line stands."""


def rigs_and_instruments(facts: Facts) -> Iterator[Block]:
    """A part for each rig that was used."""
    yield Heading(1, TITLE)
    yield Paragraph(
        "Uncertainties are standard uncertainties, as readings were understood by; limits of error without a"
        " distribution are taken as rectangular."
    )
    for rig, purpose in sorted(facts.rigs.items(), key=lambda each: (list(Purpose).index(each[1]), each[0])):
        yield Heading(2, f"{wording.isolate(rig)} ({purpose.value})" if rig else f"A rig for {purpose.value}")
        records = facts.records_of(rig)
        yield Paragraph(" ".join(_about(rig, records)))
        own = [each for each in facts.used if each.rig == rig]
        if own:
            yield Grid(
                ("Quantity", "Instrument", "Calibrated", "Certificate", "Due", "Uncertainty"),
                tuple(row for each in own for row in _rows(facts, each)),
                caption=f"Instruments of {wording.isolate(rig) or 'the rig'}",
            )
        said = tuple(_without(facts, rig, purpose, records))
        if said:
            yield Bullets(said)


def _about(rig: str, records: list[Rig]) -> Iterator[str]:
    """A rig in sentences: its arrangement, its accuracy, and since when it stands so."""
    if not records:
        yield NO_RIG if not rig else "There is no record of this rig: its instruments were not told."
        return
    for each in records:
        since = "" if each.since in (None, ALWAYS) else f" from {each.since} on"
        arrangement = told(each.arrangement)
        yield wording.sentence(f"arrangement{since}: {arrangement}")
        if each.accuracy:
            yield f"Stated accuracy{since}: {each.accuracy}, taken as limits of error."


def _rows(facts: Facts, used: Used) -> Iterator[tuple[str, ...]]:
    """An instrument under each of its calibrations."""
    record = facts.book.instruments.get(used.instrument)
    name = used.instrument + (f" (serial {record.serial})" if record and record.serial else "")
    for calibration, chain in used.under:
        found = facts.book.calibrations.get(calibration)
        yield (
            quantity_words(used.quantity),
            name,
            found.date if found else NOT_TOLD,
            told(found.certificate if found else None),
            told(found.due if found else None),
            _of_sound(used, record) if chain is None else _uncertainty(facts, used, chain),
        )


def _uncertainty(facts: Facts, used: Used, chain: Chain) -> str:
    """What was taken for an instrument's errors: of offset, of gain, of what is left by range, or its stated limits."""
    quantity, units = BY_NAME[used.quantity], facts.contents.settings.units
    said = [f"offset {difference(chain.offset_u, quantity, units)}"] if chain.offset_u else []
    said += [f"gain {percent(chain.gain_u)}"] if chain.gain_u else []
    for low, high, u in chain.linearity:
        symbol = shown_unit(quantity, units)
        ends = " to ".join(as_told(from_si(each, symbol)) for each in (low, high))
        said.append(f"{ends} {symbol}: {difference(u, quantity, units)}")
    limits = [f"± {as_told(100.0 * chain.relative, '%')} of reading"] if chain.relative else []
    limits += [f"± {difference(chain.absolute, quantity, units)}"] if chain.absolute else []
    said += [f"limits of error {' and '.join(limits)}"] if limits else []
    return "; ".join(said) or EXACT


def _of_sound(used: Used, record: Instrument | None) -> str:
    """What a microphone's or a calibrator's own line says."""
    if record is None:
        return NOT_TOLD
    said = [f"gives {as_told(record.calibrator_level, 'dB')}"] if record.calibrator_level is not None else []
    if record.accuracy_absolute:
        said.append(f"limits of error ± {as_told(record.accuracy_absolute, 'dB')}")
    elif used.quantity == "calibrator_level":
        u = wording.with_unit(wording.number(class_1_uncertainty(), 2), "dB")
        said.append(f"class 1 assumed, {u}")
    said += [f"own noise {as_told(record.self_noise, 'dBA')}"] if record.self_noise is not None else []
    return "; ".join(said) or NOT_TOLD


def _without(facts: Facts, rig: str, purpose: Purpose, records: list[Rig]) -> Iterator[str]:
    """What was read without an instrument that is known, and what was assumed."""
    if purpose is Purpose.SOUND:
        yield from _without_sound(facts, rig)
    if purpose is not Purpose.AIRFLOW:
        return
    read = {name for one in facts.placed[purpose] if one.rig == rig for name in one.taken.quantities}
    known = {each.quantity for each in facts.used if each.rig == rig}
    if bare := sorted(quantity_words(each).lower() for each in (read & METERED) - known):
        accuracy = next((each.accuracy for each in reversed(records) if each.accuracy), "")
        line = f"the stated accuracy, {accuracy}" if accuracy else _untold_accuracy(facts, rig)
        yield f"No instrument is named for {names(bare)}: {line}."
    for quantity in UNRECORDED:
        if quantity not in read and not (quantity == "relative_humidity" and "wet_bulb_temperature" in read):
            yield _assumed(facts, quantity)


def _untold_accuracy(facts: Facts, rig: str) -> str:
    """What stands for the accuracy of a rig that nobody told: as said beside the files, else assumed."""
    said = {
        str(one.taken.said["accuracy_relative"])
        for one in facts.placed[Purpose.AIRFLOW]
        if one.rig == rig and one.taken.said and "accuracy_relative" in one.taken.said
    }
    if said:
        told_ = wording.listed([f"± {as_told(100.0 * float(each), '%')}" for each in sorted(said)], last="or")
        return f"the accuracy that was told with the files, {told_} of reading"
    return f"accuracy not told, ± {as_told(100.0 * UNTOLD_ACCURACY, '%')} of reading assumed"


def _assumed(facts: Facts, quantity: str) -> str:
    """Air that was not recorded, and what was assumed for it."""
    known = BY_NAME[quantity]
    symbol = shown_unit(known, facts.contents.settings.units)
    value = as_told(from_si(ASSUMED_AIR[quantity], symbol), symbol)
    u = difference(UNRECORDED[quantity].offset_u, known, facts.contents.settings.units)
    return f"{known.label} was not recorded: {value} assumed, standard uncertainty {u}."


def _without_sound(facts: Facts, rig: str) -> Iterator[str]:
    """What nobody told of a microphone and its calibrator."""
    nodes = [
        each for each in facts.by_purpose[Purpose.SOUND] if isinstance(each, SoundNode) and each.rig == rig
    ]
    known = {each.quantity for each in facts.used if each.rig == rig}
    if "sound_pressure" not in known:
        yield "Microphone or meter: not told."
    if any(each.calibrators for each in nodes) and "calibrator_level" not in known:
        u = wording.with_unit(wording.number(class_1_uncertainty(), 2), "dB")
        yield f"Calibrator: not told. A class 1 calibrator is assumed, standard uncertainty {u}."
    if without := sum(not each.calibrators for each in nodes):
        yield f"{wording.sentence(several(without, 'mounting'))[:-1]} without a recording of a calibrator: marked."
