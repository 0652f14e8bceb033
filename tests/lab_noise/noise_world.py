"""A small lab with airflow by closed forms and given level curves, for comparisons at the same noise.

The airflow is brought in as files; of the sound only a sheet is, so that the lab has its nodes, and what was reduced of
it is replaced by curves of level against speed that the tests know.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from stillroom.compare.standing import Ranking, Standing
from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.orders import NamedTone, Origin
from stillroom.core.sound.sound_mounting import Dwell, SoundMounting, SpeedFrom
from stillroom.core.sound.tones import Tone
from stillroom.lab.book import Book, open_book
from stillroom.lab.field import Asked
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.lab.sound.nodes import SoundNode
from stillroom.measures import Condition, measure_named
from stillroom.methods.sound.kept import sound_parts
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab
from stillroom.store.results import Result, save_arrays

HOUR, TRIALS, TOP, LEAST = 3600.0, 1000, 2000.0, 500.0
RAD = 1.3e-3
"""Of the made obstacle Δp = b Q² [Pa/(m³/h)²]: so the flow goes with the speed."""

CALIBRATOR = "calibrator/made"


def pq(speed: float, flow: np.ndarray) -> np.ndarray:
    """Pressure [Pa] of the made fan at a speed [rpm] and flows [m³/h]."""
    return 8e-6 * speed**2 * (1 - (flow / (0.06 * speed)) ** 2)


def flow_at(speed: float, gain: float = 1.0) -> float:
    """Flow of the made fan through the made obstacle at a speed [rpm], in closed form [m³/h].

    p₀ (1 − (Q/g Q₀)²) = b Q², with p₀ = 8e-6 N² and Q₀ = 0.06 N
    """
    p, q = 8e-6 * speed**2, 0.06 * speed * gain
    return math.sqrt(p / (RAD + p / q**2))


def line(level: float, slope: float = 53.0) -> Callable[[np.ndarray], np.ndarray]:
    """A straight line of level against lg N that is `level` at 1500 rpm; N in rpm."""
    return lambda speed: level + slope * np.log10(speed / 1500.0)


def with_hump(
    level: float, at: float, height: float, width: float = 60.0
) -> Callable[[np.ndarray], np.ndarray]:
    """The same with a resonance at a speed [rpm]."""
    return lambda speed: line(level)(speed) + height * np.exp(-0.5 * ((speed - at) / width) ** 2)


def limit_of(level: float, limit: float, slope: float = 53.0) -> float:
    """Speed at which a straight line has a level [rpm]."""
    return float(1500.0 * 10 ** ((limit - level) / slope))


@dataclass(frozen=True)
class Sound:
    """The sound of one mounting: level [dB(A)] against speed [rpm], with what is told of it.

    own, calibrator : standard deviation of its own and of the calibrator's error, the same at all speeds [dB].
    floor : below which levels are bounds [dB]. reach : least and greatest speed [rpm].
    """

    level: Callable[[np.ndarray], np.ndarray]
    mounting: str = "1"
    sample: str = "1"
    obstacle: str = ""
    distance: float | None = 0.5
    own: float = 0.0
    calibrator: float = 0.3
    floor: float | None = None
    reach: tuple[float, float] = (LEAST, TOP)
    bands: bool = True
    tones: tuple[NamedTone, ...] = ()


@dataclass(frozen=True)
class Fan:
    """A fan of the made lab: factor on its flows, and its sound."""

    name: str
    sounds: tuple[Sound, ...]
    gain: float = 1.0
    lowest_duty: int = 20


def sweep(duty: float, gain: float) -> str:
    """A sweep of flow, pressure and speed at a duty [1]: N = 2000 duty at all flows."""
    speed, share = TOP * duty, np.linspace(0.0, 1.0, 17)
    flow = share * 0.06 * speed * gain
    pressure = pq(speed, flow / gain)
    rows = [f"{q:.5f},{p:.5f},{speed:.2f}" for q, p in zip(flow, pressure, strict=True)]
    return "\n".join(["Airflow [m³/h],Static pressure [Pa],Speed [rpm]", *rows]) + "\n"


DUTIES = (20, 25, 40, 60, 80, 100)


def make_files(where: Path, fans: tuple[Fan, ...]) -> None:
    """The files of the made lab."""
    where.mkdir(parents=True)
    flows = np.linspace(5.0, 110.0, 15)
    files = {
        "fans.csv": "fan,maker,size [mm],blades\n"
        + "".join(f"{each.name},Invented,120,7\n" for each in fans),
        "obstacles.csv": "obstacle,kind,description\nrad,radiator,a radiator\n",
        "rad.csv": "Airflow [m³/h],Pressure drop [Pa]\n"
        + "".join(f"{q:.4f},{RAD * q * q:.5f}\n" for q in flows),
    }
    runs = ["file,rig,mounting,fan,sample,obstacle,duty [%],distance [m]", "rad.csv,,,,,rad,,"]
    for number, fan in enumerate(fans):
        for duty in (each for each in DUTIES if each >= fan.lowest_duty):
            files[f"{fan.name}-{duty}.csv"] = sweep(duty / 100, fan.gain * (1.0 + 2e-5 * number))
            runs.append(f"{fan.name}-{duty}.csv,,{fan.name}-a,{fan.name},s1,,{duty},")
        for at, sound in enumerate(fan.sounds):
            name, distance = (
                f"{fan.name}-sound-{at}.csv",
                "" if sound.distance is None else f"{sound.distance:g}",
            )
            own = f"{number:02}{at}"  # the same bytes would be the same recording
            files[name] = f"speed [rpm],level [dBA]\n900,20.{own}\n1500,30.{own}\n2000,36.{own}\n"
            mounting = f"{fan.name}-q{sound.mounting}{'-rad' if sound.obstacle else ''}"
            runs.append(f"{name},,{mounting},{fan.name},s{sound.sample},{sound.obstacle},,{distance}")
    files["runs.csv"] = "\n".join(runs) + "\n"
    for name, text in files.items():
        (where / name).write_text(text, encoding="utf-8")


def make_lab(base: Path, fans: tuple[Fan, ...], toml: str = "") -> Lab:
    """The made lab, reduced, with the given sound; the caller closes it."""
    make_files(base / "bench", fans)
    folder.make(base / "lab", template("Made").replace("# trials = 2000", f"trials = {TRIALS}") + toml)
    lab = Lab(base / "lab")
    bring_in(lab, [base / "bench"], {"accuracy": "± 1 % of reading"})
    _, graph = state(lab)
    reduce_lab(lab, graph, workers=1)
    for node in graph.sounds:
        at = int(node.recordings[0].subject.rpartition("-")[2].partition(".")[0])
        fan = next(each for each in fans if each.name == node.fan)
        put_sound(lab, node, fan.sounds[at])
    return lab


def put_sound(lab: Lab, node: SoundNode, told: Sound) -> None:
    """Put the given sound in the place of what was reduced of a node."""
    body, arrays = sound_parts(sound_of(node, told))
    save_arrays(lab.path, node.key, arrays)
    lab.put_results(
        [Result(node.key, node.kind, node.subject, node.inputs, node.method, True, {"curve": body})]
    )


def sound_of(node: SoundNode, told: Sound) -> SoundMounting:
    """The given sound as a reduced mounting."""
    speeds = np.arange(told.reach[0], told.reach[1] + 1.0, 5.0)
    level = np.asarray(told.level(speeds), dtype=np.float64)
    duty = speeds / TOP
    phons = curve_of(node, told, speeds, level + 5.0) if told.bands else None
    return SoundMounting(
        levels=curve_of(node, told, speeds, level),
        phons=phons,
        dwells=tuple(
            dwell_of(told, float(each)) for each in np.arange(told.reach[0], told.reach[1] + 1.0, 100.0)
        ),
        settings={
            "duty": tuple((float(d), float(n / 60)) for d, n in zip(duty[::20], speeds[::20], strict=True))
        },
        full_speed=told.reach[1] / 60,
        geometry=node.geometry,
        floor=told.floor,
    )


def curve_of(node: SoundNode, told: Sound, speeds: np.ndarray, level: np.ndarray) -> LevelCurve:
    """A level curve with an error of the calibrator and one of its own, both the same at all speeds."""
    generator = np.random.default_rng(len(node.subject) + int(told.own * 1000))
    noise = np.repeat(told.own * generator.standard_normal((TRIALS, 1)), len(speeds), axis=1)
    bound = np.zeros(len(speeds), dtype=bool) if told.floor is None else level <= told.floor
    points = [
        LevelPoint(
            float(n / 60),
            0.0,
            float(told.level(np.array([n]))[0]),
            0.1,
            is_bound=False,
            from_ramp=False,
            run="made",
        )
        for n in speeds[::10]
    ]
    return LevelCurve(
        identity=node.subject,
        speeds=speeds / 60,
        central=level if told.floor is None else np.maximum(level, told.floor),
        sources=(CALIBRATOR,),
        effects=np.full((1, len(speeds)), told.calibrator),
        noise=noise.astype(np.float32),
        bound=bound,
        points=tuple(points),
        held=(),
        floor=told.floor,
        reach=(float(speeds[0] / 60), float(speeds[-1] / 60)),
        seed=0,
    )


def dwell_of(told: Sound, speed: float) -> Dwell:
    """A dwell at a speed [rpm]."""
    level = float(told.level(np.array([speed]))[0])
    return Dwell(
        run="made", file="made.csv", setting_kind="duty", setting=speed / TOP, speed=speed / 60, u_speed=0.0,
        speed_from=SpeedFrom.SOUND, level=level, u=0.1, is_bound=False, c_level=None, z_level=None,
        loudness=None, sharpness=1.0 + speed / 4000.0 if told.bands else None, tones=told.tones,
        bands=None, bands_background=None, bands_bound=None,
    )  # fmt: skip


def tone(order: float, frequency: float, origin: Origin, *, prominent: bool = True) -> NamedTone:
    """A tone of a dwell."""
    return NamedTone(
        Tone(frequency, 20.0, 12.0, 14.0, 8.0, 9.0, prominent, ("tone-to-noise ratio",)), order, origin
    )


def state(lab: Lab) -> tuple[Book, Graph]:
    """The lab as it stands."""
    book = open_book(lab)
    return book, build_graph(book)


def ranked(lab: Lab, measure: str, only: tuple[str, ...] = (), **told: object) -> Ranking:
    """A ranking of the made lab."""
    book, graph = state(lab)
    condition = Condition(**told)  # type: ignore[arg-type]
    return rank_fans(lab, book, graph, Asked(measure_named(measure), condition, only=only), workers=1)


def line_of(found: Ranking, fan: str) -> Standing:
    """The standing of a fan."""
    return next(each for each in found.standings if each.fan == fan)


def why(found: Ranking, fan: str) -> str:
    """Why a fan isn't ranked."""
    return next(each.why for each in found.excluded if each.fan == fan)


def but(sound: Sound, **changes: object) -> Sound:
    """The same sound with something changed."""
    return replace(sound, **changes)  # type: ignore[arg-type]


HUMP_AT, HUMP = 1200.0, 8.0
TONES = (
    tone(7.0, 210.0, Origin.BLADE_PASS),
    tone(3.1, 2500.0, Origin.FIXED),
    tone(14.0, 420.0, Origin.BLADE_PASS_HARMONIC, prominent=False),
)

FANS = (
    Fan("Alder", (Sound(line(30.0), tones=TONES),)),
    Fan("Birch", (Sound(line(32.8)), Sound(line(33.2), mounting="2"))),
    Fan("Cherry", (Sound(with_hump(30.0, HUMP_AT, HUMP)),)),
    Fan("Dogwood", (Sound(line(22.0)),), gain=0.97),
    Fan("Elm", (Sound(line(55.0)),)),
    Fan("Fir", (Sound(line(30.0), floor=27.0),)),
    Fan("Gorse", (Sound(line(30.0), distance=1.0),)),
    Fan("Hazel", ()),
    Fan("Iris", (Sound(line(30.0)), Sound(line(34.0), obstacle="rad"))),
    Fan("Juniper", (Sound(line(30.0), bands=False),), lowest_duty=60),
)
