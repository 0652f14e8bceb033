"""Writes the invented laboratory: tables, rigs, raw exports; and the truth apart from them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from stillroom.demo.bench import BY_QUANTITY, Chamber, build_chamber, room_air
from stillroom.demo.catalogue import (
    CONTENDERS,
    DENSE_OBSTACLE,
    REFERENCE_OBSTACLE,
    STALLING,
    fans,
    obstacles,
)
from stillroom.demo.draws import Draws
from stillroom.demo.exports import CHAMBER_COLUMNS, OBSTACLE_COLUMNS, Layout, duct_columns, write_export
from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.faults import fault_records
from stillroom.demo.plan import Mounting, duties, mountings, obstacle_day
from stillroom.demo.rigs import NOZZLE_CHANGE, write_rigs
from stillroom.demo.sweeps import Occasion, duct_sweep, fan_sweep, obstacle_sweep
from stillroom.demo.tables import (
    Planned,
    RunLine,
    write_claims,
    write_events,
    write_fans,
    write_mountings,
    write_obstacles,
    write_prices,
    write_runs,
    write_samples,
)
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
MOUNTING_SD = 0.004
"""Spread between mountings of a sample, of k_q and of k_p."""
LARGEST_OBSTACLE_FLOW = {120: 130 / 3600, 140: 170 / 3600}
"""Largest flow in an obstacle's sweep [m³/s], by tile [mm]."""


def write_exports(
    folder: Path, *, full: bool = False, seed: int = SEED, truth_path: Path | None = None, faults: bool = True
) -> Truth:
    """Write a laboratory's files as it would hand them over, and the truth beside the folder.

    Parameters
    ----------
    folder : where the files go; made if need be.
    full : twenty-five fans at ten speeds instead of six at six.
    seed : the same seed writes the same bytes.
    truth_path : where the truth goes as JSON; `truth.json` beside `folder` if not given.
    faults : whether things go wrong as they do in a laboratory.
    """
    folder.mkdir(parents=True, exist_ok=True)
    chamber = build_chamber(seed)
    obstructions = obstacles(seed, full=full)
    models = fans(seed, obstructions, full=full)
    planned = mountings(tuple(fan.name for fan in models), faults=faults, full=full)
    bought = samples(models, planned, seed)

    runs = [_write_obstacle(folder, chamber, each) for each in obstructions]
    made_wrong: list[Fault] = []
    for order, (mounting, day) in enumerate(planned):
        sample = bought[mounting.fan, mounting.true_sample]
        files = _write_mounting(folder, chamber, mounting, sample, day, duties(full=full), order)
        runs += [
            RunLine(file, mounting.rig, mounting.name, mounting.fan, mounting.sample, duty=str(duty))
            for duty, file in files.items()
        ]
        made_wrong += fault_records(mounting, files)

    write_fans(folder, models)
    write_samples(folder, bought, seed)
    write_obstacles(folder, obstructions)
    write_mountings(folder, planned)
    write_runs(folder, runs)
    false = write_claims(folder, models, seed, faults=faults)
    write_prices(folder, models, seed)
    write_events(folder, planned)
    write_rigs(folder)

    known = [(MODEL, fan) for fan in models] + [(name, fan) for (_, name), fan in bought.items()]
    truth = Truth(
        seed=seed,
        full=full,
        fans=tuple(_values(known)),
        obstacles=tuple((each.name, each.a, each.b) for each in obstructions),
        operating=tuple(_operating(known, obstructions)),
        faults=tuple(made_wrong),
        false_claims=false,
        reference_obstacle=REFERENCE_OBSTACLE,
        near_tie=CONTENDERS,
        stalling=(STALLING, DENSE_OBSTACLE),
        nozzle_change=NOZZLE_CHANGE,
        gauges=gauge_truth(chamber, {q: gauge.name for q, gauge in BY_QUANTITY.items()}),
        bores={name: nozzle.bore for name, nozzle in chamber.nozzles.items()},
        coefficient=chamber.nozzles["N40"].excess,
    )
    truth.save(truth_path or folder.parent / "truth.json")
    return truth


def samples(models: tuple[Fan, ...], planned: Planned, seed: int) -> dict[tuple[str, str], Fan]:
    """Every sample that the tables know, by (fan, sample)."""
    by_name = {fan.name: fan for fan in models}
    names = sorted({(each.fan, each.sample) for each, _ in planned})
    found = {}
    for fan, sample in names:
        draws = Draws(seed, f"sample {fan} {sample}")
        found[fan, sample] = by_name[fan].varied(
            speed=draws.near_one(SAMPLE_SPEED_SD),
            k_q=draws.near_one(SAMPLE_SD),
            k_p=draws.near_one(SAMPLE_SD),
        )
    return found


def _write_obstacle(folder: Path, chamber: Chamber, obstacle: Obstacle) -> RunLine:
    day, name = obstacle_day(), f"obstacle {obstacle.name}"
    occasion = Occasion(name, day, room_air(chamber.seed, day, name), 0.0)
    rows = obstacle_sweep(chamber, obstacle, occasion, LARGEST_OBSTACLE_FLOW[round(obstacle.tile * 1000)])
    file = f"exports/obstacles/{obstacle.name}-{obstacle.version}.csv"
    write_export(folder / file, rows, OBSTACLE_COLUMNS, Layout.COMMA)
    return RunLine(file, "chamber", obstacle=obstacle.name)


def _write_mounting(
    folder: Path,
    chamber: Chamber,
    mounting: Mounting,
    sample: Fan,
    day: str,
    settings: tuple[int, ...],
    order: int,
) -> dict[int, str]:
    """Write the sweeps of one mounting; returns the files by duty [%], relative to the folder."""
    seed, layout = chamber.seed, _layout(mounting.fan)
    draws = Draws(seed, f"mounting {mounting.name}")
    mounted = sample.varied(k_q=draws.near_one(MOUNTING_SD), k_p=draws.near_one(MOUNTING_SD))
    files = {}
    for i, duty in enumerate(settings):
        name = f"{mounting.name} {duty}pct"
        stagger = ((i + 0.37 * order) * 0.618034) % 1.0
        occasion = Occasion(name, day, room_air(seed, day, name), stagger)
        wrong = mounting.wrong(duty)
        file = f"exports/{mounting.fan}/{mounting.sample}/m{mounting.number}/{duty}pct.{layout.suffix}"
        if mounting.rig == "duct":
            columns = duct_columns("m³/h" if wrong.flow_factor != 1.0 else "CFM")
            write_export(
                folder / file, duct_sweep(seed, mounted, duty / 100, occasion, wrong), columns, layout
            )
        else:
            rows = fan_sweep(chamber, mounted, duty / 100, occasion, wrong)
            write_export(folder / file, rows, CHAMBER_COLUMNS, layout)
        files[duty] = file
    return files


def _layout(fan: str) -> Layout:
    """The layout in which a fan's exports were saved: most with the unit in the header."""
    return {"Sedge": Layout.UNIT_ROW, "Sundew": Layout.TABS}.get(fan, Layout.COMMA)


def _values(known: list[tuple[str, Fan]]) -> Iterator[FanTruth]:
    for sample, fan in known:
        yield fan_truth(fan, sample)


def _operating(known: list[tuple[str, Fan]], obstructions: tuple[Obstacle, ...]) -> Iterator[Operating]:
    for sample, fan in known:
        for obstacle in obstructions:
            if obstacle.tile == fan.size:
                yield from operating_truth(fan, sample, obstacle)
