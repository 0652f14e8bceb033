"""Rules 10 and 11: how long was averaged, and what else is in a recording; recordings that can't be used."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.quality.finding import Finding
from stillroom.quality.saying import rpm
from stillroom.quality.sound.facts import HeardFan, HeardMounting, RecordingFacts
from stillroom.quality.sound.saying import (
    BLOCKS,
    INTEGER_FLOATS,
    MARKS,
    about_recording,
    about_sound,
    settings_of,
)
from stillroom.records.limits import Limits

HALF_A_SECOND = 0.5
"""By so much a recording may be shorter than it should be [s]: a recorder stops at whole blocks."""

LONG = 4.0
"""From this length on it is something that passes, not somebody who knocks or speaks [s] (common practice)."""

SHORTEST = 1.0
"""A shorter recording has no level [s] (common practice)."""

RUMBLE = 8.0
"""C- less A-weighted level from which a sound is an engine's rumble; speech lies far below [dB] (common practice)."""

LOUDEST = 140.0
"""No fan, and hardly a microphone, reaches it [dB(A)] (common practice)."""

AGAIN = "record it once more; listen to the recording first"


def recordings(fan: HeardFan) -> Iterator[Finding]:
    """What speaks against single recordings of a fan."""
    for mounting in fan.mountings:
        yield from _too_short(mounting, fan.limits)
        yield from _held(mounting)
        for run in mounting.recordings:
            if run.failed:
                yield from _unusable(run, mounting)
            else:
                yield from _not_whole(run, mounting, fan.limits)


def _too_short(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 10: one finding for all dwells of a mounting that are alike."""
    known = [(each, each.duration * (1.0 - each.rejected)) for each in mounting.dwells
             if each.duration is not None]  # fmt: skip
    least = limits.least_averaging_time - HALF_A_SECOND
    blocked = [each for each, time in known if time < least]
    marked = [each for each, time in known if time >= least
              and (each.duration or 0.0) < limits.averaging_time - HALF_A_SECOND]  # fmt: skip
    expected = f"{limits.averaging_time:g} s, never less than {limits.least_averaging_time:g} s"
    for runs, severity in ((blocked, BLOCKS), (marked, MARKS)):
        if not runs:
            continue
        times = [each.duration * (1.0 - each.rejected) for each in runs if each.duration is not None]
        found = f"{settings_of(runs)} of {mounting.name}: averaged over {_seconds(min(times))}"
        cause = "the recording was stopped too early"
        limit = limits.least_averaging_time if severity is BLOCKS else limits.averaging_time
        common = f"averaged over less than {limit:g} s"
        if len(runs) == 1:
            yield about_recording(10, runs[0], mounting, found, expected, severity=severity, cause=cause,
                                  test=AGAIN, common=common)  # fmt: skip
        else:
            yield about_sound(10, mounting, found, expected, severity=severity, cause=cause, test=AGAIN,
                              common=common)  # fmt: skip


def _seconds(time: float) -> str:
    return f"{time:.0f} s" if time >= SHORTEST else f"{time:.1g} s"


def _not_whole(run: RecordingFacts, mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 11: clipping, gaps and transients of one recording, told as one."""
    found, causes, severity = [], [], MARKS
    if run.level is not None and run.level > LOUDEST:
        yield about_recording(
            11, run, mounting, f"{run.words} of {mounting.name}: {run.level:.0f} dBA, louder than any fan",
            f"less than {LOUDEST:g} dBA, and samples within ± 1", cause=INTEGER_FLOATS,
            test="look at the largest sample of the file; export it again as 24-bit, or as floats of ± 1",
            common="samples far above full scale",
        )  # fmt: skip
        return  # samples "at full scale" are told by that
    if run.clipped:
        found.append(f"{run.clipped} samples at full scale")
        causes.append("clipped: somebody knocked against the stand, or too much gain")
        severity = BLOCKS
    if run.dropouts:
        lost = sum(length for _, length in run.dropouts)
        found.append(f"{len(run.dropouts)} gaps, {lost:.2f} s in all")
        causes += [] if run.clipped else ["the recorder or the computer lost samples"]
        severity = BLOCKS
    if run.is_dwell and run.transients:
        loudest = max(over for _, _, over in run.transients)
        found.append(
            f"{100 * run.rejected:.0f} % of the seconds left out, up to {loudest:.0f} dB over the median"
        )
        causes += [] if run.clipped else [_what_it_was(run)]
        severity = BLOCKS if run.rejected > limits.rejected else severity
    elif run.is_dwell and run.burst is not None and run.burst > limits.burst and not found:
        found.append(f"the level exceeded 1 % of the time lies {run.burst:.1f} dB over the median")
        causes.append("knocks shorter than a second, or a fan that hunts")
    if found:
        yield about_recording(
            11, run, mounting, f"{run.words} of {mounting.name}: {'; '.join(found)}",
            f"no sample at full scale, no gap, at most {100 * limits.rejected:g} % left out", severity=severity,
            cause="; ".join(causes), test=AGAIN,
        )  # fmt: skip


def _what_it_was(run: RecordingFacts) -> str:
    """The probable source of what was left out, by how long it lasted and by its rumble."""
    start, length, _ = max(run.transients, key=lambda each: each[1])
    when = f"{start:.0f} s after the beginning, {length:.0f} s long"
    if length >= LONG and (run.burst_rumble is None or run.burst_rumble >= RUMBLE):
        return f"a lorry or an aeroplane that passed, {when}"
    if length >= LONG:
        return f"somebody in the corridor, or another machine that ran, {when}"
    return f"somebody in the corridor: a voice, a door or a step, {when}"


def _held(mounting: HeardMounting) -> Iterator[Finding]:
    """Rule 11: points that their near neighbours contradict and that the curve therefore leaves out."""
    if mounting.sound is None:
        return
    held = mounting.sound.levels.held
    for run in mounting.recordings:
        own = [each for each in held if each.run == run.run]
        if own and not run.transients:
            speeds = ", ".join(rpm(each.speed) for each in own[:4])
            yield about_recording(
                11, run, mounting, f"{run.words} of {mounting.name} at {speeds}: a level that its neighbours"
                " contradict",
                "levels that follow each other", severity=MARKS,
                cause="a sound from outside during these moments; they were left out", test=AGAIN,
                common="single steps of a ramp left out",
            )  # fmt: skip


def _unusable(run: RecordingFacts, mounting: HeardMounting) -> Iterator[Finding]:
    """Recordings that could not be used, where no calibrator and no background is the reason."""
    if not run.was_read and not run.is_recording:
        yield about_recording(
            10, run, mounting, f"{run.words} of {mounting.name} can't be read: {run.failed}", "a whole table",
            severity=MARKS, cause="a table that was put together twice, or cut", common="a table that can't be read",
            test="export it again from the meter and look at its rows",
        )  # fmt: skip
    elif not run.was_read:
        yield about_recording(
            10, run, mounting, f"{run.words} of {mounting.name} can't be read: {run.failed}", "a whole recording",
            cause="the recording or its copy was cut short", test="copy it again from the recorder; play its end",
            common="a recording that can't be read",
        )  # fmt: skip
    elif run.is_silent:
        yield about_recording(
            11, run, mounting, f"{run.words} of {mounting.name} is silent", "the sound of a fan",
            cause="an empty channel, or a microphone that was off",
            test="look at the channel and at the recorder’s display while somebody claps", common="silence",
        )  # fmt: skip
    elif run.duration is not None and run.duration < SHORTEST:
        yield about_recording(
            10, run, mounting, f"{run.words} of {mounting.name}: {run.duration:.2g} s of sound", "30 s",
            cause="the recording or its copy was cut short", test="copy it again from the recorder; play its end",
            common="a recording that is cut",
        )  # fmt: skip
    elif run.corrected is not None and run.is_dwell:
        yield about_recording(
            20, run, mounting, f"{run.words} of {mounting.name}: {run.failed}", "a speed that something tells",
            severity=MARKS,
            cause="too short, too near the background, or no reading of a tachometer was written down",
            test="write the tachometer's reading beside the recording", common="no speed",
        )  # fmt: skip
    elif not _told_elsewhere(run, mounting):
        yield about_recording(
            11, run, mounting, f"{run.words} of {mounting.name} is not used: {run.failed}",
            "a recording that can be used", severity=MARKS, cause="as it says; the others stand without it",
            test=AGAIN, common="a recording that is not used",
        )  # fmt: skip


def _told_elsewhere(run: RecordingFacts, mounting: HeardMounting) -> bool:
    """Whether rule 5 (no scale) or 6 (no louder than the background) says it."""
    if run.level is None:
        return run.run not in {each for scale in mounting.scales for each in scale.runs}
    sides = [mounting.beside(each) for side in mounting.rooms.get(run.run, ((), ())) for each in side]
    levels = [each.level for each in sides if each is not None and each.level is not None]
    return run.corrected is None and bool(levels) and run.level <= max(levels)
