"""Heat runs beside the made sound: ΔT = a (N/1500)^(−0.45) of each fan in closed form, with errors that are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from noise_world import TOP, TRIALS, Fan, Sound, line, make_lab, state

from stillroom.compare.standing import Ranking
from stillroom.core.heat.heat_curve import fit_heat
from stillroom.core.heat.heat_mounting import HeatMounting, HeatStep, StepHow, heat_points
from stillroom.lab.field import Asked
from stillroom.lab.heat.nodes import KIND, HeatNode
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition, measure_named
from stillroom.methods.heat.kept import heat_parts
from stillroom.methods.heat.told import RigTold
from stillroom.records.keys import key_of
from stillroom.store.lab import Lab
from stillroom.store.results import Result, save_arrays

NOMINAL, EXPONENT = 300.0, -0.45
PROBE = "probe/heat-1/hot"
LOOP = RigTold("heat-1", NOMINAL, fans=2, coolant="water", radiator="rad")


def rise(at_1500: float, speed: float) -> float:
    """ΔT of the made fan at a speed [rpm] on the made radiator [K]."""
    return float(at_1500 * (speed / 1500.0) ** EXPONENT)


@dataclass(frozen=True)
class Run:
    """A mounting on the heat rig.

    Parameters
    ----------
    fan : its name. at_1500 : its rise at 1500 rpm [K]. speeds : of its steps [rpm]. forecast : speeds not waited for.
    top : speed at 100 % duty [rpm]. date, loop : when and on what. has_speed : whether the tachometer was read.
    """

    fan: str
    at_1500: float
    speeds: tuple[float, ...] = (800.0, 1200.0, 1600.0, 2000.0)
    mounting: str = "h1"
    sample: str = "s1"
    forecast: tuple[float, ...] = ()
    top: float = TOP
    date: str = "2026-03-02"
    loop: RigTold = LOOP
    has_speed: bool = True
    u: float = 0.02
    marks: tuple[str, ...] = ()

    @property
    def subject(self) -> str:
        return f"{self.fan}-{self.mounting}"


def step(run: Run, number: int, speed: float) -> HeatStep:
    """One step of a run, with the power of its fan: 2 W at 1500 rpm, by the cube of the speed."""
    delta = rise(run.at_1500, speed)
    return HeatStep(
        number=number, first=0.0, last=1800.0, moment=f"{run.date}T10:00:00", setting_kind="duty",
        setting=speed / run.top, noise=None, speed=speed / 60.0 if run.has_speed else None, u_speed=0.0,
        hot=295.0 + delta, air=295.0, delta=delta, delta_nominal=delta, u_own=run.u, power=NOMINAL, power_sd=0.5,
        nominal=NOMINAL,
        conductance=NOMINAL / delta, how=StepHow.FORECAST if speed in run.forecast else StepHow.STEADY, tau=260.0,
        span=6.0, fan_power=2.0 * (speed / 1500.0) ** 3,
    )  # fmt: skip


def mounting_of(run: Run) -> HeatMounting:
    """The run as it is reduced; the hot probe's error of 0.2 K is shared by all on the rig."""
    steps = tuple(step(run, at, speed) for at, speed in enumerate(run.speeds, start=1))
    sources = {PROBE: 0.2}
    curve = (
        fit_heat(heat_points(steps), identity=run.subject, sources=sources, trials=TRIALS)
        if run.has_speed
        else None
    )
    return HeatMounting(steps, curve, NOMINAL, run.loop.fans, sources=sources, marks=run.marks)


def node_of(run: Run) -> HeatNode:
    """The node of a run."""
    key = key_of("made heat", repr(run))
    return HeatNode(
        key=key, subject=run.subject, fan=run.fan, sample=run.sample, mounting=run.subject, rig=run.loop.name,
        radiator=run.loop.radiator, date=run.date, logs=(), runs=(), rig_told=run.loop, steps_told=(), baths=(),
        setting_kind="", setting=None, tolerance=0.05, trials=TRIALS, judged=key,
    )  # fmt: skip


def put_heat(lab: Lab, runs: Sequence[Run]) -> tuple[HeatNode, ...]:
    """Keep the results of some runs; their nodes."""
    nodes = tuple(node_of(each) for each in runs)
    for node, run in zip(nodes, runs, strict=True):
        body, arrays = heat_parts(mounting_of(run))
        save_arrays(lab.path, node.key, arrays)
        lab.put_results([Result(node.key, KIND, node.subject, {}, node.method, True, body)])
    return nodes


@dataclass(frozen=True)
class HeatLab:
    """The made lab with its heat nodes."""

    lab: Lab
    nodes: tuple[HeatNode, ...]

    @property
    def graph(self) -> Graph:
        """The lab's graph with the made heat runs in it."""
        return replace(state(self.lab)[1], heats=self.nodes)

    def ranked(self, measure: str = "heat", only: tuple[str, ...] = (), **told: object) -> Ranking:
        """A ranking of it."""
        book, _ = state(self.lab)
        condition = Condition(**told)  # type: ignore[arg-type]
        return rank_fans(
            self.lab, book, self.graph, Asked(measure_named(measure), condition, only=only), workers=1
        )


def sounds(level: float, *, obstacle: str = "rad") -> tuple[Sound, ...]:
    """A straight line of level, with the radiator mounted."""
    return (Sound(line(level), obstacle=obstacle),)


FANS = (
    Fan("Alder", sounds(30.0)),
    Fan("Birch", sounds(30.0)),
    Fan("Cherry", sounds(33.0, obstacle="")),
    Fan("Dogwood", sounds(22.0)),
    Fan("Elm", sounds(55.0)),
    Fan("Fir", ()),
    Fan("Hazel", sounds(30.0)),
)

RUNS = (
    Run("Alder", 12.0),
    Run("Alder", 12.1, mounting="h2"),
    Run("Birch", 12.0),
    Run("Birch", 12.0, mounting="h2"),
    Run("Cherry", 11.0),
    Run("Cherry", 11.1, mounting="h2"),
    Run("Dogwood", 14.0, forecast=(2000.0,)),
    Run("Elm", 10.0),
    Run("Fir", 12.0, speeds=(1500.0,), top=1500.0),
)


def make_heat_lab(
    base: Path, fans: tuple[Fan, ...] = FANS, runs: Sequence[Run] = RUNS, prices: str = ""
) -> HeatLab:
    """The made lab with sound and heat; the caller closes `lab`."""
    lab = make_lab(base, fans)
    if prices:
        (base / "prices").mkdir()
        (base / "prices" / "prices.csv").write_text(prices, encoding="utf-8")
        bring_in(lab, [base / "prices"], {})
    return HeatLab(lab, put_heat(lab, runs))
