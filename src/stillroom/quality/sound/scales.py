"""Rule 5: the calibrator before and after a session, and recordings that should be a calibrator's."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.quality.finding import Finding
from stillroom.quality.sound.facts import HeardFan, HeardMounting, RecordingFacts, ScaleFacts
from stillroom.quality.sound.saying import INTEGER_FLOATS, MARKS, about_beside, about_sound
from stillroom.records.limits import Limits

SEATING = 0.07
"""Standard uncertainty of the difference of two readings of a calibrator [dB]: 0.05 dB each (common practice)."""

GAIN_STEP, GAIN_WITHIN = 10.0, 0.7
"""Gain switches go in whole tens of dB; how well that must fit [dB]."""

AGAIN = "put the calibrator on, wait for a steady reading, record it again; look at the gain"
WITHOUT = "record the calibrator before the first and after the last fan"


def calibrators(fan: HeardFan) -> Iterator[Finding]:
    """What speaks against the scales of a fan's recordings."""
    for mounting in fan.mountings:
        refused = [each for each in mounting.calibrators if each.failed]
        for each in refused:
            yield _refused(each, mounting)
        for scale in mounting.scales:
            yield from _drifted(scale, mounting, fan.limits)
            yield from _one_sided(scale, mounting)
        yield from _absent(mounting)
        if not refused:
            yield from _without_scale(mounting)


def _refused(run: RecordingFacts, mounting: HeardMounting) -> Finding:
    """A calibrator's recording that is none."""
    return about_beside(
        5, run, [mounting], f"{run.file} should be the calibrator's: {run.failed}",
        "one steady tone at 1,000 Hz, nothing else within 20 dB, no clipping",
        cause=f"too much gain, or {INTEGER_FLOATS}" if run.clipped else
        "not the calibrator, not pressed home, another gain, or a wrong sampling rate in the file",
        test=AGAIN, common="a calibrator's recording is none",
    )  # fmt: skip


def _drifted(scale: ScaleFacts, mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    if scale.drift is None or abs(scale.drift) <= max(limits.calibrator_drift, 2.0 * SEATING):
        return
    run = mounting.beside(scale.runs_after[0])
    if run is None:
        return
    yield about_beside(
        5, run, [mounting],
        f"the calibrator after reads {-scale.drift:+.2f} dB against before",
        f"within {limits.calibrator_drift:g} dB",
        cause=f"the gain was moved within the session by {-scale.drift:+.1f} dB, or the calibrator was not pressed"
        " home once",
        test=AGAIN, common="the calibrator before and after differ",
    )  # fmt: skip


def _one_sided(scale: ScaleFacts, mounting: HeardMounting) -> Iterator[Finding]:
    sides = {"before": scale.runs_before, "after": scale.runs_after}
    there = [side for side, runs in sides.items() if runs]
    if len(there) != 1:
        return
    run = mounting.beside(sides[there[0]][0])
    if run is None or run.failed:
        return
    missing = "after" if there[0] == "before" else "before"
    others = [mounting.beside(each) for each in sides[there[0]]]
    if any(each is not None and each.failed for each in others):
        return
    yield about_beside(
        5, run, [mounting], f"the calibrator was recorded {there[0]}, and not {missing}",
        "before and after each session", severity=MARKS,
        cause="a gain that moved meanwhile goes unseen", test=WITHOUT, common="the calibrator on one side only",
    )  # fmt: skip


def _absent(mounting: HeardMounting) -> Iterator[Finding]:
    """Scales that rest on no calibrator."""
    bare = [each for each in mounting.scales if not each.runs_before and not each.runs_after]
    if not bare or mounting.calibrators:
        return
    by = "a meter's own levels" if all(each.of_meter for each in bare) else "a stated sensitivity"
    yield about_sound(
        5, mounting, f"the levels of {mounting.name} rest on {by}: not calibrated that day",
        "a calibrator recorded or read before and after", cause="no calibrator was used or written down",
        test=WITHOUT, common="not calibrated that day",
    )  # fmt: skip


def _without_scale(mounting: HeardMounting) -> Iterator[Finding]:
    """Recordings that could be read, but have no scale."""
    scaled = {run for each in mounting.scales for run in each.runs}
    runs = [each for each in mounting.recordings
            if each.failed and each.was_read and not each.silent and each.level is None
            and each.run not in scaled]  # fmt: skip
    if not runs:
        return
    why = runs[0].failed
    if not mounting.calibrators:
        yield about_sound(
            5, mounting, f"the recordings of {mounting.name} have no scale: {why}",
            "a recording of the calibrator in the session, or a stated level at full scale",
            cause="no calibrator was recorded", test=WITHOUT, place=runs[0].place,
            common="recordings without a scale",
        )  # fmt: skip
        return
    named = [each for each in mounting.calibrators if each.file in why]
    yield about_beside(
        5, (named or list(mounting.calibrators))[-1], [mounting],
        f"no scale can be had from the session's calibrators: {why}",
        "recordings of the calibrator at the gain of the fans'",
        cause="another gain, another level of the calibrator, or not pressed home",
        test=AGAIN, common="calibrators contradict each other",
    )  # fmt: skip
