"""Writes what the quiet room hands over: recordings, its rig, its tables; and gives the truth of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.demo.calendar import Calendar
from stillroom.demo.draws import Draws
from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.sound import meter
from stillroom.demo.sound.faults import sound_faults
from stillroom.demo.sound.plan import (
    CALIBRATOR_SECONDS,
    DWELL_SECONDS,
    Form,
    Session,
    Take,
    Visit,
    What,
)
from stillroom.demo.sound.playing import Played, Stage, play_background, play_calibrator, play_fan
from stillroom.demo.sound.room import AIR_DENSITY, DISTANCE, Room, build_room, rig_lines
from stillroom.demo.sound.saving import save_recording
from stillroom.demo.sound.tables import SoundLine, write_sound_mountings, write_sound_runs
from stillroom.demo.sound.truth import (
    FREE_AIR,
    Blowing,
    FanLevels,
    LimitTruth,
    MeterTruth,
    RecordingTruth,
    SoundTruth,
    fan_levels,
    limit_truths,
)
from stillroom.demo.sound.voice import Voice
from stillroom.demo.sound.voices import mounted_voice, sample_voice, voice_of
from stillroom.demo.sound.waves import bump
from stillroom.demo.truth import MODEL, Fault

Array32 = NDArray[np.float32]

FOLDER = "exports/quiet-room"
TACHOMETER_SD = 6e-4
"""Standard deviation of a reading of the tachometer, as a share."""
BUMP_OVER, BUMP_START = 6.0, 12.3
"""By how much a knock goes over full scale [dB]; when [s]."""
THREADS = 2
"""Recordings that are made at a time."""
_BETWEEN = timedelta(seconds=100)
"""From the beginning of one recording to that of the next."""


@dataclass(frozen=True)
class World:
    """What there is to be recorded.

    Parameters
    ----------
    room : the quiet room. models : fans by name. samples : by (fan, sample).
    obstacles : by the name that the tables have; those that fans were recorded with.
    """

    room: Room
    models: Mapping[str, Fan]
    samples: Mapping[tuple[str, str], Fan]
    obstacles: Mapping[str, Obstacle]

    def voice(self, fan: str, sample: str = MODEL) -> Voice:
        """The voice of a model or of one of its samples."""
        voice = voice_of(self.room.seed, self.models[fan])
        return voice if sample == MODEL else sample_voice(self.room.seed, voice, fan, sample)


@dataclass
class Written:
    """What was written so far."""

    lines: list[SoundLine] = field(default_factory=list)
    truths: list[RecordingTruth] = field(default_factory=list)
    metered: list[MeterTruth] = field(default_factory=list)


def write_sound(
    folder: Path,
    world: World,
    calendar: Calendar,
    sessions: Sequence[Session],
    calibrated: tuple[int, int],
    *,
    metered: bool,
) -> tuple[SoundTruth, tuple[Fault, ...]]:
    """Write recordings and tables of the quiet room.

    Parameters
    ----------
    calibrated : days from the calibrations to the round, and from one calibration to the next.
    metered : whether a simple meter was used on some fans too.
    """
    written = Written()
    with ThreadPoolExecutor(THREADS) as pool:  # transforms and encoders let go of the interpreter
        jobs = [job for session in sessions for job in _jobs(folder, world, calendar, session)]
        for truth, line in pool.map(lambda job: job(), jobs):
            written.truths.append(truth)
            written.lines.append(line)
    hung: list[tuple[str, str, str, str, int]] = []
    if metered:
        _write_meter(folder, world, calendar, written)
        hung = [(f"{fan}-s1-q1", fan, "s1", meter.RIG, meter.SECOND_DAY) for fan in meter.BY_SECOND]
    write_sound_mountings(folder, sessions, calendar, hung)
    write_sound_runs(folder, written.lines)
    rigs = [*rig_lines(calendar, *calibrated), *(meter.meter_lines() if metered else ())]
    (folder / "quiet.toml").write_text("\n".join(rigs), encoding="utf-8", newline="\n")
    visits = [visit for session in sessions for visit in session.visits]
    truth = SoundTruth(
        bias=world.room.bias,
        distance=DISTANCE,
        density=AIR_DENSITY,
        recordings=tuple(written.truths),
        limits=tuple(_limits(world, visits)),
        levels=tuple(_levels(world, visits)),
        meter=tuple(written.metered),
    )
    return truth, tuple(sound_faults(sessions, truth))


def build_world(
    seed: int,
    models: Sequence[Fan],
    samples: Mapping[tuple[str, str], Fan],
    obstacles: Mapping[str, Obstacle],
) -> World:
    """The laboratory's room with its fans."""
    return World(build_room(seed), {each.name: each for each in models}, samples, obstacles)


def _write_meter(folder: Path, world: World, calendar: Calendar, written: Written) -> None:
    """What the simple meter showed, in free air."""
    for fans, write in ((meter.ON_SHEET, meter.write_sheet), (meter.BY_SECOND, meter.write_seconds)):
        blowing = [(fan, _blowing(world, fan, "s1", FREE_AIR)) for fan in fans]
        shown = write(folder, FOLDER, blowing, world.room.seed, calendar)
        written.lines += shown.lines
        written.metered += shown.truths


Job = Callable[[], tuple[RecordingTruth, SoundLine]]


def _jobs(folder: Path, world: World, calendar: Calendar, session: Session) -> Iterator[Job]:
    """One session: its own folder, a job for each recording in the order in which it was made."""
    day = calendar.day(session.day)
    place = f"{FOLDER}/{day}" + (f"-{session.name}" if session.name else "")
    start = datetime.fromisoformat(day) + timedelta(hours=session.hour)
    planned = list(_planned(session))
    for number, (what, visit, take) in enumerate(planned):
        share = max(0, number - 1) / (len(planned) - 2)
        moment = start + number * _BETWEEN
        yield partial(_record, folder, world, session, place, share, moment, what, visit, take)


def _record(
    folder: Path, world: World, session: Session, place: str, share: float, moment: datetime, what: What,
    visit: Visit | None, take: Take | None,
) -> tuple[RecordingTruth, SoundLine]:  # fmt: skip
    """Make one recording; `share` says how far its session has come, 0 to 1."""
    form = take.form if take else session.form
    moved = session.gain if what is What.CALIBRATOR_AFTER else 0.0
    file = f"{place}/{_file_name(what, visit, take)}.{form.suffix}"
    stage = Stage(
        world.room, f"{session.day}{session.name} {file.rpartition('/')[2]}", session.day, session.rise * share,
        form.rate,
    )  # fmt: skip
    played = _play(stage, world, session, what, visit, take)
    full_scale = session.recorder.full_scale - moved
    save_recording(folder / file, played.pressure, form, full_scale, moment, _beside(played, form))
    truth = _truth(file, what, visit, take, played, world, session)
    return truth, _line(file, what, visit, take, played, world, form, place.rpartition("/")[2])


def _planned(session: Session) -> Iterator[tuple[What, Visit | None, Take | None]]:
    yield What.CALIBRATOR_BEFORE, None, None
    yield What.BACKGROUND_BEFORE, None, None
    for visit in session.visits:
        for take in visit.takes:
            yield take.what, visit, take
    yield What.BACKGROUND_AFTER, None, None
    yield What.CALIBRATOR_AFTER, None, None


_NAMES = {
    What.CALIBRATOR_BEFORE: "cal94-before",
    What.CALIBRATOR_AFTER: "cal94-after",
    What.BACKGROUND_BEFORE: "bg-before",
    What.BACKGROUND_AFTER: "bg-after",
    What.RAMP_UP: "ramp-up",
    What.RAMP_DOWN: "ramp-down",
}


def _file_name(what: What, visit: Visit | None, take: Take | None) -> str:
    if visit is None or take is None:
        return _NAMES[what]
    setting = take.setting.name if take.setting else _NAMES[what]
    through = visit.obstacle.partition("@")[0] or "free"
    return f"{visit.fan.lower()}_{visit.sample}_q{visit.number}_{setting}_{through}"


def _play(
    stage: Stage, world: World, session: Session, what: What, visit: Visit | None, take: Take | None
) -> Played:
    if visit is None or take is None:
        is_tone = what in {What.CALIBRATOR_BEFORE, What.CALIBRATOR_AFTER}
        return (
            play_calibrator(stage, CALIBRATOR_SECONDS) if is_tone else play_background(stage, DWELL_SECONDS)
        )
    fan = world.samples[visit.fan, visit.sample]
    voice = mounted_voice(world.room, world.voice(visit.fan, visit.sample), visit.name, session.day)
    obstacle = world.obstacles[visit.obstacle] if visit.obstacle else None
    played = play_fan(stage, visit, take, fan, voice, obstacle)
    if take.wrong.bump:
        peak = session.recorder.full_scale + BUMP_OVER
        knock = bump(len(played.pressure), stage.rate, peak, BUMP_START)
        return replace(played, pressure=played.pressure + knock)
    return played


def _beside(played: Played, form: Form) -> Array32 | None:
    """Where there are two channels: the room's talk-back microphone, all but silent, on the first."""
    if form.channels == 1:
        return None
    return np.asarray(np.roll(played.pressure, 997) * np.float32(10 ** (-95 / 20)), np.float32)


def _truth(
    file: str,
    what: What,
    visit: Visit | None,
    take: Take | None,
    played: Played,
    world: World,
    session: Session,
) -> RecordingTruth:
    bare = RecordingTruth(
        file=file,
        what=what.value,
        level=played.level,
        background=played.background,
        full_scale=session.recorder.full_scale - (world.room.calibrator - 94.0),
    )
    if visit is None or take is None:
        return bare
    return replace(
        bare, fan=visit.fan, sample=visit.sample, mounting=visit.name, obstacle=visit.obstacle,
        setting=take.setting.words if take.setting else "", speed=played.speed, speed_from=played.ends[0],
        speed_to=played.ends[1], fan_level=played.fan_level, tones=played.tones,
    )  # fmt: skip


def _line(
    file: str, what: What, visit: Visit | None, take: Take | None, played: Played, world: World, form: Form,
    session: str,
) -> SoundLine:  # fmt: skip
    channel = form.channels if form.channels > 1 else None
    if visit is None or take is None:
        return SoundLine(file, what.value, session, channel=channel)
    read = Draws(world.room.seed, f"tachometer {file.rpartition('/')[2]}").near_one(TACHOMETER_SD)
    line = SoundLine(
        file, what.value, session, visit.name, visit.fan, visit.sample, visit.obstacle, take.setting,
        channel=channel, distance=None if visit.distance == DISTANCE else visit.distance,
    )  # fmt: skip
    if take.setting is None:
        return replace(line, ends=played.ends)
    return replace(line, tachometer=played.speed * read * take.wrong.pulses)


def _conditions(visits: Sequence[Visit]) -> Iterator[tuple[str, str, str]]:
    """(fan, sample, obstacle) of all that was recorded, each fan as a model too."""
    seen = dict.fromkeys((each.fan, each.sample, each.obstacle) for each in visits)
    yield from dict.fromkeys((fan, MODEL, obstacle) for fan, _, obstacle in seen)
    yield from seen


def _blowing(world: World, fan: str, sample: str, obstacle: str) -> Blowing:
    body = world.models[fan] if sample == MODEL else world.samples[fan, sample]
    return Blowing(body, world.voice(fan, sample), world.obstacles[obstacle] if obstacle else None)


def _limits(world: World, visits: Sequence[Visit]) -> Iterator[LimitTruth]:
    for fan, sample, obstacle in _conditions(visits):
        yield from limit_truths(_blowing(world, fan, sample, obstacle), sample, obstacle)


def _levels(world: World, visits: Sequence[Visit]) -> Iterator[FanLevels]:
    for fan, sample, obstacle in _conditions(visits):
        yield fan_levels(_blowing(world, fan, sample, obstacle), sample, obstacle)
