"""What was measured: the samples, each run with its conditions, the instruments with their calibrations."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from stillroom import wording
from stillroom.errors import LabDamaged, StillroomError
from stillroom.lab.book import Placed
from stillroom.lab.purposes import Purpose
from stillroom.lab.readings import readings_of
from stillroom.lab.sound.nodes import SoundNode
from stillroom.publish.document import Block, Bullets, Callout, CalloutKind, Grid, Heading, Paragraph
from stillroom.publish.dossier.material import Material
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

UNTOLD = "not told"
_AIR = ("temperature", "barometric_pressure", "relative_humidity")


def sample_parts(material: Material) -> Iterator[Block]:
    """The samples: where each comes from, its lot and state, or that its details are missing."""
    yield Heading(1, "Samples")
    rows = []
    for name, record in material.samples.items():
        photos = wording.plural(len(material.photos_of(name)), "photo")
        if record is None:
            rows.append((name, "details missing", *[UNTOLD] * 4, photos))
            continue
        told = (record.bought, record.shop, record.lot, record.condition)
        hours = f"{from_si(record.hours, 'h'):g} h" if record.hours is not None else UNTOLD
        words = [material.veil.over(each) if each else UNTOLD for each in told]
        rows.append((name, *words, hours, photos))
    headers = ("sample", "bought or supplied", "from", "lot", "condition", "hours run", "photos")
    yield Grid(headers, tuple(rows))
    if len(rows) == 1:
        yield Callout(
            CalloutKind.NOTE, "One sample was measured: nothing here tells how another unit would do."
        )


# --- runs ----------------------------------------------------------------------------------------------------------


def run_parts(material: Material) -> Iterator[Block]:
    """Each run: when, on which rig, at which setting and in which air it was taken, and whether it is used."""
    yield Heading(1, "Runs")
    used = _used(material)
    for purpose in Purpose:
        own = [each for each in material.runs if each.purpose is purpose]
        if own:
            yield Heading(2, purpose.value.capitalize())
            yield Grid(
                ("run", "mounting", "day", "rig", "through", "setting", "air", "use"),
                tuple(_row(material, each, used) for each in own),
                notes=("Air is the mean over a run’s readings.",) if purpose is Purpose.AIRFLOW else (),
            )
    places = {
        each.geometry.words for each in material.nodes if isinstance(each, SoundNode) if each.geometry.words
    }
    if places:
        yield Paragraph(f"Microphone: {'; '.join(sorted(places))}.")


def _row(material: Material, run: Placed, used: Mapping[str, str]) -> tuple[str, ...]:
    veil = material.veil
    return (
        run.run,
        veil.over(run.mounting) or UNTOLD,
        run.told_date or f"came in {run.date}",
        run.rig or UNTOLD,
        run.obstacle or "free air",
        run.setting_word or UNTOLD,
        _air_of(material.whole.lab, run, material.book.settings.units) if run.is_airflow else "",
        used.get(run.run, "not used"),
    )


def _used(material: Material) -> dict[str, str]:
    """{run: whether its mounting uses it, or a decision leaves it out}."""
    inputs = [each for node in material.nodes for role in node.inputs.values() for each in role]
    found = {each["run"]: "used" for each in inputs}
    decided = {subject for subject, _ in material.whole.graph.excluded}
    for each in material.runs:
        if not decided.isdisjoint({f"run:{each.run}", f"mounting:{each.mounting}"}):
            found[each.run] = LEFT_OUT
    return found


LEFT_OUT = "excluded, see below"


def _air_of(lab: Lab, run: Placed, units: dict[str, str]) -> str:
    """The air that was recorded with a run, as means: "21.9 °C, 993 hPa, 45.1 %"; what isn't recorded is said."""
    try:
        columns = readings_of(lab.path, run.taken).columns
    except LabDamaged:
        raise
    except StillroomError as error:
        return f"could not be read: {error.thing}"
    said = []
    for name in _AIR:
        if name in columns and len(columns[name]):
            symbol = shown_unit(BY_NAME[name], units)
            mean = from_si(float(columns[name].mean()), symbol)
            said.append(wording.with_unit(wording.bare(mean), symbol))
    return ", ".join(said) or "not recorded"


# --- instruments ---------------------------------------------------------------------------------------------------


def instrument_parts(material: Material) -> Iterator[Block]:
    """The instruments under the calibrations that were in force, as far as they are known."""
    yield Heading(1, "Instruments and calibrations")
    rows = dict.fromkeys(
        row
        for node in material.nodes
        for role in node.inputs.values()
        for run in role
        for row in _calibrations(material, run)
    )
    if rows:
        headers = ("rig", "quantity", "instrument", "calibrated", "certificate", "due")
        yield Grid(headers, tuple(sorted(rows)))
    heard = _sound_instruments(material)
    if heard:
        yield Bullets(tuple(heard))
    if not rows and not heard:
        yield Paragraph("No instrument of these runs is told.")


def _calibrations(material: Material, run: Mapping[str, Any]) -> Iterator[tuple[str, ...]]:
    rig = str(run.get("rig") or UNTOLD)
    for quantity, name in run.get("calibrations", {}).items():
        record = material.book.calibrations.get(name)
        words = BY_NAME[quantity].label if quantity in BY_NAME else quantity.replace("_", " ")
        if record is None:
            yield (rig, words, name, UNTOLD, UNTOLD, UNTOLD)
        else:
            yield (
                rig,
                words,
                record.instrument,
                record.date,
                record.certificate or UNTOLD,
                record.due or UNTOLD,
            )


def _sound_instruments(material: Material) -> list[str]:
    """Microphones and calibrators by which the fan's sound was recorded."""
    runs = [each.run for node in material.nodes if isinstance(node, SoundNode) for each in node.recordings]
    microphones: Sequence[str] = sorted({each.microphone for each in runs if each.microphone})
    calibrators = sorted({each.calibrator for each in runs if each.calibrator})
    said = [f"Microphone: {each}." for each in microphones]
    return said + [f"Calibrator: {each}." for each in calibrators]
