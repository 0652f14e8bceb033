"""The scale of a recording: from its calibrator, else from a stated sensitivity; a meter's levels have theirs.

How well it is known goes by sources with an identity: what the calibrator or the meter has wrong is wrong for all
fans alike, and cancels between them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stillroom.core.sound.calibration import Calibrated, CalibratorReading, calibrate, read_calibrator
from stillroom.errors import NotPossible, StillroomError
from stillroom.methods.sound.recording import Heard
from stillroom.methods.sound.told import Chain, Item, Session, Told

STATED = 1.0
"""Standard uncertainty of a scale by a stated sensitivity that nobody checked that day [dB] (common practice)."""

METER = 0.7
"""Standard uncertainty of a meter's own level, where no accuracy is stated [dB]: the acceptance limit of class 2 at
1 kHz, ± 1.0 dB (IEC 61672-1:2013, from memory), and the rest of its band, taken together (common practice)."""

NOT_CALIBRATED = "not calibrated that day"


@dataclass(frozen=True)
class Scale:
    """What makes a level of a recording dB re 20 µPa.

    Parameters
    ----------
    offset : to be added [dB]. sources : {identity: standard uncertainty [dB]} of it.
    of_samples : whether it is of samples, not of a meter's levels.
    calibrated : by which calibrator recordings; None where there were none. marks : what must be said of it.
    """

    offset: float
    sources: Mapping[str, float]
    of_samples: bool
    calibrated: Calibrated | None = None
    marks: tuple[str, ...] = ()


def scale_of(session: Session, chain: Chain) -> Scale:
    """The scale of a recording.

    Parameters
    ----------
    session : the recording with its calibrators. chain : by what it was recorded.

    Raises
    ------
    NotPossible : neither a calibrator nor a stated sensitivity, or no calibrator that is one.
    Contradiction : calibrators that contradict each other or the stated sensitivity.
    """
    if all(each.calibrated for each in session.item.heard):
        u = METER if chain.accuracy is None else chain.accuracy / math.sqrt(3.0)
        marks = ("levels of a meter", NOT_CALIBRATED)
        return Scale(0.0, {f"microphone/{chain.name}/level": u}, of_samples=False, marks=marks)
    if session.calibrators.before or session.calibrators.after:
        return _calibrated(session, chain)
    if chain.full_scale is None:
        raise NotPossible(
            "calibration",
            place=session.item.told.file,
            found=f"no recording of a calibrator{_by(chain)} in its session, mounting or day,"
            " and no stated sensitivity",
            expected="a recording of a calibrator, or the microphone's level at full scale in the rig's file",
        )
    sources = {f"microphone/{chain.name}/level": STATED}
    return Scale(chain.full_scale, sources, of_samples=True, marks=(NOT_CALIBRATED,))


def _by(chain: Chain) -> str:
    return f" by microphone {chain.name}" if chain.name else ""


def _calibrated(session: Session, chain: Chain) -> Scale:
    """By the recordings of a calibrator that are one; those that aren't are told, none at all is refused."""
    refused: dict[str, str] = {}
    before = _readings(session.calibrators.before, refused)
    after = _readings(session.calibrators.after, refused)
    if not (before or after):
        raise NotPossible(
            "calibration", found="no recording of a calibrator that is one: " + "; ".join(refused.values())
        )
    stated = None if chain.calibrator_accuracy is None else chain.calibrator_accuracy / math.sqrt(3.0)
    found = calibrate(before, after, _nominal(session), earlier=chain.full_scale, u_calibrator=stated)
    day = f"{chain.rig}/{session.item.told.date}"
    first = ", ".join((*session.calibrators.runs[0], *session.calibrators.runs[1]))
    sources = {f"calibrator/{chain.calibrator or chain.rig}": found.u_calibrator,
               f"calibration/{day}/{first}": found.u_reading}  # fmt: skip
    marks = tuple(f"calibrator left out: {each}" for each in refused.values())
    return Scale(found.offset, sources, of_samples=True, calibrated=found, marks=marks)


def _readings(items: Sequence[Item], refused: dict[str, str]) -> list[CalibratorReading]:
    found: list[CalibratorReading] = []
    for each in items:
        try:
            reading = calibrator_reading(each)
        except StillroomError as error:
            refused[each.told.run] = error.sentence()
            continue
        if fault := reading.fault:
            refused[each.told.run] = f"{each.told.file}: found {fault[0]}; expected {fault[1]}"
        else:
            found.append(reading)
    return found


def calibrator_reading(item: Item) -> CalibratorReading:
    """What a recording of a calibrator holds.

    Raises
    ------
    NotPossible : it could not be read, is no recording, or is silent.
    """
    heard = item.heard[0] if item.heard else None
    if heard is None or heard.spectrum is None or heard.resolution is None or heard.seconds is None:
        why = item.failed or "a table of levels"
        raise NotPossible("recording of a calibrator", place=item.told.file, found=why, expected="its tone")
    return read_calibrator(
        heard.spectrum, heard.resolution, heard.seconds, clipped=heard.clipped, name=item.told.file
    )


def _nominal(session: Session) -> float:
    """The level that the calibrator gives, as it is told once or alike."""
    items: tuple[Item, ...] = (*session.calibrators.before, *session.calibrators.after)
    told: list[Told] = [each.told for each in items]
    levels = {each.calibrator for each in told if each.calibrator is not None}
    if len(levels) == 1:
        return levels.pop()
    raise NotPossible(
        "level of the calibrator",
        place=told[0].file,
        found=" and ".join(f"{each:g} dB" for each in sorted(levels)) or "none told",
        expected="94 or 114 dB, in the rig's file, the run table, or --as calibrator=94",
    )


def offset_for(heard: Heard, scale: Scale) -> float | None:
    """What makes levels of another recording of the session dB re 20 µPa; None where this scale isn't theirs."""
    if heard.calibrated:
        return 0.0
    return scale.offset if scale.of_samples else None
