"""Writes the invented laboratory: tables, rigs, raw exports; and the truth apart from them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from stillroom.demo.bench import BY_QUANTITY, Chamber, build_chamber, room_air
from stillroom.demo.calendar import USUAL_DAY, Calendar, calendar_of
from stillroom.demo.catalogue import (
    CONTENDERS,
    DENSE_OBSTACLE,
    FIRST_VERSION,
    INITIALS,
    REFERENCE_FAN,
    REFERENCE_OBSTACLE,
    STALLING,
    fans,
    obstacles,
)
from stillroom.demo.control.plan import full_control, quick_control
from stillroom.demo.control.truth import ControlTruth
from stillroom.demo.control.write import write_control
from stillroom.demo.draws import Draws
from stillroom.demo.exports import OBSTACLE_COLUMNS, Sweep, write_comma
from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.faults import fault_records, round_records
from stillroom.demo.heat.live import LIVE_RUNS, Player, live_player
from stillroom.demo.heat.sessions import full_plan, quick_plan
from stillroom.demo.heat.truth import HeatTruth
from stillroom.demo.heat.write import build_rig, write_heat
from stillroom.demo.photos import write_photos
from stillroom.demo.plan import Kind, Mounting
from stillroom.demo.rigs import CALIBRATED, DUE, NOZZLE_CHANGE, write_rigs
from stillroom.demo.round import DOOR_SEAL, Happening, Round, round_of
from stillroom.demo.saving import Saved, save_mounting
from stillroom.demo.sound.meter import BY_SECOND, ON_SHEET
from stillroom.demo.sound.sessions import full_sessions, quick_sessions
from stillroom.demo.sound.truth import SoundTruth
from stillroom.demo.sound.write import build_world, write_sound
from stillroom.demo.spreadsheet import plain_ranking
from stillroom.demo.sweeps import Occasion, obstacle_sweep
from stillroom.demo.tables import RunLine, write_runs, write_tables
from stillroom.demo.truth import (
    MODEL,
    FanTruth,
    Fault,
    Operating,
    Truth,
    fan_truth,
    gauge_truth,
    operating_truth,
)

SEED = 20260330
"""The laboratory that `demo` shows."""
SAMPLE_SPEED_SD = 0.02
SAMPLE_SD = 0.01
"""Spread between samples: of speed; of k_q and of k_p (design ranges 2–3 % and 1 %)."""
LARGEST_OBSTACLE_FLOW = {120: 130 / 3600, 140: 170 / 3600}
"""Largest flow in an obstacle's sweep [m³/s], by tile [mm]."""
README = "These are the rigs' exports as they came, one folder a day. Don't rename anything. K. T.\n"


def write_exports(
    folder: Path,
    *,
    full: bool = False,
    seed: int = SEED,
    truth_path: Path | None = None,
    faults: bool = True,
    today: date = USUAL_DAY,
    sound: bool = False,
    heat: bool = False,
    control: bool = False,
) -> Truth:
    """Write a laboratory's files as it would hand them over, and the truth beside the folder.

    Parameters
    ----------
    folder : where the files go; made if need be.
    full : twenty fans at ten speeds, and all that befalls a lab, instead of six fans at six.
    seed : the same seed writes the same readings.
    truth_path : where the truth goes as JSON; `truth.json` beside `folder` if not given.
    faults : whether things go wrong as they do in a laboratory.
    today : the day the lab is made; the round ended just before it. It moves dates and nothing else.
    sound : whether the fans were recorded in the quiet room too.
    heat, control : whether they were run on the heat rig, and on the bench for control, too.
    """
    folder.mkdir(parents=True, exist_ok=True)
    chamber = build_chamber(seed)
    plan = round_of(full=full, faults=faults)
    calendar = calendar_of(today, plan.last)
    obstructions = obstacles(seed, full=full)
    models = fans(seed, obstructions, full=full)
    bought = samples(models, plan.mountings, seed)

    latest = [each for each in obstructions if each.name == REFERENCE_OBSTACLE][-1]
    loads = [_write_obstacle(folder, chamber, plan, each, calendar) for each in obstructions]
    runs = [line for line, _ in loads]
    made_wrong: list[Fault] = []
    saved: dict[str, tuple[Saved, ...]] = {}
    for i, mounting in enumerate(plan.mountings):
        sample = bought[mounting.fan, mounting.true_sample]
        day = calendar.day(mounting.day)
        found = save_mounting(folder, chamber, plan, mounting, sample, day, INITIALS[i % len(INITIALS)])
        saved[mounting.name] = found
        runs += _run_lines(mounting, found)
        made_wrong += fault_records(mounting, found)
    made_wrong += round_records(plan) if faults else ()
    heard: SoundTruth | None = None
    sound_faults: tuple[Fault, ...] = ()
    if sound:
        heard, sound_faults = _write_sound(
            folder, calendar, models, obstructions, seed, full=full, faults=faults
        )

    warmed: HeatTruth | None = None
    heat_faults: tuple[Fault, ...] = ()
    if heat:
        warmed, heat_faults, log = _write_heat(
            folder, calendar, models, obstructions, seed, full=full, faults=faults
        )
        plan = replace(plan, log=(*plan.log, *log))
    answered: tuple[ControlTruth, ...] = ()
    control_faults: tuple[Fault, ...] = ()
    if control:
        runs_there = (full_control if full else quick_control)(faults=faults)
        hung = tuple(Mounting(each.fan, each.sample, each.number) for each in runs_there)
        there = samples(models, hung, seed)
        answered, control_faults = write_control(folder, seed, there, calendar, runs_there, (CALIBRATED, DUE))

    if sound and full:
        plan = replace(plan, log=(*plan.log, DOOR_SEAL))
    write_photos(folder, models, bought)
    false = write_tables(folder, plan, calendar, models, bought, obstructions, seed, faults=faults)
    write_runs(folder, runs, zeros=full)
    write_rigs(folder, calendar)
    if full:
        (folder / "readme.txt").write_text(README, encoding="utf-8", newline="\n")

    known = [(MODEL, fan) for fan in models] + [(name, fan) for (_, name), fan in bought.items()]
    truth = Truth(
        seed=seed,
        full=full,
        today=today.isoformat(),
        fans=tuple(_values(known)),
        obstacles=tuple((_versioned(each), each.a, each.b) for each in obstructions),
        operating=tuple(_operating(known, obstructions)),
        faults=(*made_wrong, *sound_faults, *heat_faults, *control_faults),
        false_claims=false,
        reference_obstacle=_versioned(latest),
        reference_fan=REFERENCE_FAN if full else "",
        near_tie=CONTENDERS,
        stalling=(STALLING, DENSE_OBSTACLE),
        nozzle_change=NOZZLE_CHANGE,
        gauges=gauge_truth(chamber, {q: gauge.name for q, gauge in BY_QUANTITY.items()}),
        bores={name: nozzle.bore for name, nozzle in chamber.nozzles.items()},
        coefficient=chamber.nozzles["N40"].excess,
        plain=plain_ranking(*_plain(models, plan, saved, loads, _versioned(latest))),
        sound=heard,
        heat=warmed,
        control=answered,
    )
    truth.save(truth_path or folder.parent / "truth.json")
    return truth


def _write_sound(
    folder: Path,
    calendar: Calendar,
    models: tuple[Fan, ...],
    obstructions: tuple[Obstacle, ...],
    seed: int,
    *,
    full: bool,
    faults: bool,
) -> tuple[SoundTruth, tuple[Fault, ...]]:
    """The quiet room's recordings and tables."""
    latest = [each for each in obstructions if each.name == REFERENCE_OBSTACLE][-1]
    sessions = (full_sessions if full else quick_sessions)(_versioned(latest), faults=faults)
    heard = {(visit.fan, visit.sample) for each in sessions for visit in each.visits}
    heard |= {(fan, "s1") for fan in (*ON_SHEET, *BY_SECOND)} if full else set()
    hung = tuple(Mounting(fan, sample, 1) for fan, sample in sorted(heard))
    world = build_world(
        seed, models, samples(models, hung, seed), {_versioned(each): each for each in obstructions}
    )
    return write_sound(folder, world, calendar, sessions, (CALIBRATED, DUE), metered=full)


def _write_heat(
    folder: Path,
    calendar: Calendar,
    models: tuple[Fan, ...],
    obstructions: tuple[Obstacle, ...],
    seed: int,
    *,
    full: bool,
    faults: bool,
) -> tuple[HeatTruth, tuple[Fault, ...], tuple[Happening, ...]]:
    """The heat rig's logs and tables, and what befell it."""
    latest = [each for each in obstructions if each.name == REFERENCE_OBSTACLE][-1]
    plan = (full_plan if full else quick_plan)(faults=faults)
    fitted = {(each.fan, each.sample) for each in plan.runs} | {(each.fan, "s1") for each in plan.runs}
    hung = tuple(Mounting(fan, sample, 1) for fan, sample in sorted(fitted))
    rig = build_rig(seed, models, samples(models, hung, seed), latest, _versioned(latest), plan)
    truth, faults_made = write_heat(folder, rig, calendar, (CALIBRATED, DUE))
    return truth, faults_made, plan.log


def live_rigs(folder: Path, seed: int, start: datetime) -> Player:
    """Invented rigs whose logger files are to grow below a folder; all begin at `start`."""
    known = obstacles(seed, full=False)
    models = fans(seed, known, full=False)
    hung = tuple(Mounting(each.run.fan, each.run.sample, 1) for each in LIVE_RUNS)
    radiator = next(each for each in known if each.name == REFERENCE_OBSTACLE)
    return live_player(folder, seed, models, samples(models, hung, seed), radiator, start, 0)


def samples(models: tuple[Fan, ...], planned: tuple[Mounting, ...], seed: int) -> dict[tuple[str, str], Fan]:
    """Every sample that the tables know, by (fan, sample)."""
    by_name = {fan.name: fan for fan in models}
    names = sorted({(each.fan, each.sample) for each in planned})
    found = {}
    for fan, sample in names:
        draws = Draws(seed, f"sample {fan} {sample}")
        found[fan, sample] = by_name[fan].varied(
            speed=draws.near_one(SAMPLE_SPEED_SD),
            k_q=draws.near_one(SAMPLE_SD),
            k_p=draws.near_one(SAMPLE_SD),
        )
    return found


def _versioned(obstacle: Obstacle) -> str:
    """An obstacle's name, with its version where there are several of it."""
    return f"{obstacle.name}@{obstacle.version}" if obstacle.several else obstacle.name


def _write_obstacle(
    folder: Path, chamber: Chamber, plan: Round, obstacle: Obstacle, calendar: Calendar
) -> tuple[RunLine, Sweep]:
    day = 0 if obstacle.version == FIRST_VERSION else plan.swap_day
    name = f"obstacle {obstacle.name}" + ("" if day == 0 else f" {obstacle.version}")
    occasion = Occasion(name, day, room_air(chamber.seed, day, name), 0.0)
    largest = LARGEST_OBSTACLE_FLOW[round(obstacle.tile * 1000)]
    rows = tuple(obstacle_sweep(chamber, obstacle, occasion, largest))
    sweep = Sweep(rows, OBSTACLE_COLUMNS, None, datetime.fromisoformat(calendar.day(day)))
    file = f"exports/obstacles/{obstacle.name}-v{obstacle.version}.csv"
    write_comma(folder / file, sweep)
    return RunLine(file, "chamber", obstacle=_versioned(obstacle)), sweep


def _run_lines(mounting: Mounting, saved: tuple[Saved, ...]) -> Iterator[RunLine]:
    """The rows of the run table for a mounting's files; none where their names say it all."""
    for each in saved:
        if each.part not in (None, 1) or (mounting.kind is Kind.NAMED and not each.sweep.again):
            continue
        setting = each.sweep.setting if each.part is None else None
        yield RunLine(
            each.file, mounting.rig, mounting.name, mounting.fan, mounting.sample, setting=setting,
            zeros=each.sweep.zeros, frequency=mounting.frequency,
        )  # fmt: skip


def _plain(
    models: tuple[Fan, ...],
    plan: Round,
    saved: dict[str, tuple[Saved, ...]],
    loads: list[tuple[RunLine, Sweep]],
    obstacle: str,
) -> tuple[dict[str, tuple[str, Sweep]], Sweep]:
    """What the spreadsheet is fed: each fan's first mounting at its highest setting, and the obstacle's sweep."""
    load = next(sweep for line, sweep in loads if line.obstacle == obstacle)
    found = {}
    for fan in models:
        if round(fan.size * 1000) == 120 and fan.name != REFERENCE_FAN:
            first = next(each.name for each in plan.mountings if each.fan == fan.name)
            ups = [each for each in saved[first] if not each.sweep.down and each.sweep.setting]
            best = max(ups, key=lambda each: each.sweep.setting.value if each.sweep.setting else 0.0)
            found[fan.name] = (best.file, best.sweep)
    return found, load


def _values(known: list[tuple[str, Fan]]) -> Iterator[FanTruth]:
    for sample, fan in known:
        yield fan_truth(fan, sample)


def _operating(known: list[tuple[str, Fan]], obstructions: tuple[Obstacle, ...]) -> Iterator[Operating]:
    for sample, fan in known:
        for obstacle in obstructions:
            if obstacle.tile == fan.size:
                yield from operating_truth(fan, sample, obstacle, _versioned(obstacle))
