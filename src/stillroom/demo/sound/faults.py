"""The account of what was made wrong on purpose in the quiet room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stillroom.demo.catalogue import REFERENCE_FAN
from stillroom.demo.sound.plan import Session, Take, Visit
from stillroom.demo.sound.room import DISTANCE
from stillroom.demo.sound.truth import AT_LIMIT, NOT_SO_QUIET, TOPS_OUT, RecordingTruth, SoundTruth
from stillroom.demo.truth import MODEL, Fault


def sound_faults(sessions: Sequence[Session], truth: SoundTruth) -> Iterator[Fault]:
    """The faults of the recordings, and what fans do that a plain table would hide."""
    for session in sessions:
        own = [each for each in truth.recordings if _within(session, each)]
        files = tuple(each.file for each in truth.recordings if _folder(each) == _folder(own[0]))
        if session.rise:
            yield Fault(
                "background rises", "the background rose between the fans", "", "", "", files,
                f"the ventilation next door was switched on: {session.rise:g} dB more from the room at the end",
                "sound_level", None, "background before and after", "record the session again", 9, "background",
            )  # fmt: skip
        if session.gain:
            yield Fault(
                "calibrator at another gain", "the recorder's gain was moved within the session", "", "", "", files,
                f"the gain was {session.gain:+g} dB at the calibrator after", "sound_level", None,
                "the calibrator's level before and after", "record the session again", 5, "gain",
            )  # fmt: skip
        for visit in session.visits:
            yield from _of_visit(visit, own)
    yield from _of_fans(truth)


def _within(session: Session, recording: RecordingTruth) -> bool:
    return recording.mounting in {visit.name for visit in session.visits}


def _folder(recording: RecordingTruth) -> str:
    return recording.file.rpartition("/")[0]


def _of_visit(visit: Visit, own: list[RecordingTruth]) -> Iterator[Fault]:
    here = [each for each in own if each.mounting == visit.name]
    if visit.distance != DISTANCE:
        yield Fault(
            "microphone moved", "the microphone stood nearer than the method says", visit.fan, visit.sample,
            visit.name, tuple(each.file for each in here),
            f"the microphone stood at {visit.distance:g} m in place of {DISTANCE:g} m", "sound_level", None,
            "level at a speed", "exclude the mounting, or record it again", 12, "distance",
        )  # fmt: skip
    for take, recording in zip(visit.takes, here, strict=True):
        yield from _of_take(visit, take, recording)


def _of_take(visit: Visit, take: Take, recording: RecordingTruth) -> Iterator[Fault]:
    where = (visit.fan, visit.sample, visit.name, (recording.file,))
    setting = take.setting.words if take.setting else ""
    if take.wrong.lorry:
        yield Fault(
            "lorry", "a lorry passed while it was recorded", *where,
            "a lorry passed for some seconds of a quiet recording", "sound_level", None,
            "level of the recording", "record it again", 11, "lorry", setting,
        )  # fmt: skip
    if take.wrong.bump:
        yield Fault(
            "clipped", "somebody knocked against the stand: the recording is clipped", *where,
            "a knock went over full scale", "sound_level", None, "level of the recording", "record it again",
            11, "clipped", setting,
        )  # fmt: skip
    if take.wrong.pulses != 1.0:
        yield Fault(
            "wrong pulses in a recording", "wrong pulses per revolution", *where,
            "the tachometer counted 1 pulse per revolution where the fan gives 2", "speed", take.wrong.pulses,
            "speed of the recording", f"divide the tachometer by {take.wrong.pulses:g}", 20,
            "wrong pulses per revolution", setting,
        )  # fmt: skip


def _of_fans(truth: SoundTruth) -> Iterator[Fault]:
    """What fans do: no mistake of anybody's, but a plain table hides it."""
    for each in truth.limits:
        if each.sample != MODEL or each.fan == REFERENCE_FAN:
            continue
        name = f"{each.fan} through {each.obstacle or 'free air'} at {each.limit:g} dBA"
        if each.reached == AT_LIMIT and each.avoid:
            bands = ", ".join(f"{low * 60:.0f} to {high * 60:.0f} rpm" for low, high in each.avoid)
            yield Fault(
                f"inverts: {name}", "blade pass meets a resonance of the frame", each.fan, "", "", (),
                f"louder than the limit at {bands}, though not above", "", None, "noise-limited speed", "avoid it",
                0, "avoid",
            )  # fmt: skip
        if each.reached == TOPS_OUT:
            yield Fault(
                f"tops out: {name}", "quieter even at full speed", each.fan, "", "", (),
                "its full speed lies under the limit", "", None, "noise-limited speed", "mark it", 0, "tops out",
            )  # fmt: skip
        if each.reached == NOT_SO_QUIET:
            yield Fault(
                f"not so quiet: {name}", "louder even at its lowest speed", each.fan, "", "", (),
                "its lowest speed lies over the limit", "", None, "noise-limited speed", "mark it", 0, "quiet",
            )  # fmt: skip
