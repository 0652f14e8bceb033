"""The account of what was made wrong on purpose on the heat rig."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stillroom.demo.heat.plan import HeatPlan, HeatRun
from stillroom.demo.heat.truth import HeatRunTruth
from stillroom.demo.truth import Fault

_DELTA = "temperature rise of this mounting"
_EXCLUDE = "exclude the mounting, or repeat it"


def heat_faults(plan: HeatPlan, runs: Sequence[HeatRunTruth]) -> Iterator[Fault]:
    """The faults of the heat runs, and of the days on which the loop had lost coolant."""
    for run, truth in zip(plan.runs, runs, strict=True):
        yield from _of_run(run, truth)
    low = {day: share for day, share in plan.flow.items() if share > 0.02}
    for run, truth in zip(plan.runs, runs, strict=True):
        if run.day in low and not run.check:
            yield _fault(
                run, truth.files, "coolant flow low", "the coolant's flow was low until it was topped up",
                f"the loop had lost {100 * low[run.day]:.1f} % of its flow", "liquid_flow", 1 - low[run.day],
                _EXCLUDE, 38, "flow",
            )  # fmt: skip


def _of_run(run: HeatRun, truth: HeatRunTruth) -> Iterator[Fault]:
    wrong = run.wrong
    if wrong.cut:
        last = truth.steps[-1]
        yield _fault(
            run, truth.files, "cut early", "the run was cut before it was steady",
            f"the last setting ended after {wrong.cut:g} time constants, {last.tau * wrong.cut / 60:.0f} minutes",
            "hot_temperature", None, _EXCLUDE, 34, "cut", last.setting,
        )  # fmt: skip
    if wrong.clock:
        yield _fault(
            run, truth.files, "logger clock off", "a logger's clock was off",
            f"the power logger's clock was {wrong.clock:g} s ahead, and nobody wrote it down", "time", None,
            "tell the clock's offset in the run table", 52, "clock",
        )  # fmt: skip
    if wrong.door:
        yield _fault(
            run, truth.files, "door opened", "a door was opened during the run",
            "cold air came in for a minute", "air_in_temperature", None,
            "nothing: these rows are left out", 35, "door", truth.steps[0].setting,
        )  # fmt: skip
    if wrong.stray:
        yield _fault(
            run, truth.files, "stray air probe", "an air probe hung in the warmed air",
            "the second air probe had fallen into the fan's stream", "air_in_temperature_2", None, _EXCLUDE,
            35, "probe",
        )  # fmt: skip
    if wrong.load:
        yield _fault(
            run, truth.files, "heater wanders", "the heater's load wandered",
            f"the heater's power wandered by {100 * wrong.load:.1f} % (standard deviation)", "heater_power", None,
            _EXCLUDE, 36, "heater",
        )  # fmt: skip
    if wrong.pulses != 1.0:
        yield _fault(
            run, truth.files, "wrong pulses on the heat rig", "wrong pulses per revolution",
            "the power logger counted 1 pulse per revolution where the fan gives 2", "speed", wrong.pulses,
            f"divide the speed by {wrong.pulses:g}", 20, "wrong pulses per revolution",
        )  # fmt: skip


def _fault(
    run: HeatRun, files: tuple[str, ...], name: str, cause: str, done: str, quantity: str, factor: float | None,
    remedy: str, rule: int, words: str, setting: str = "",
) -> Fault:  # fmt: skip
    return Fault(
        name,
        cause,
        run.fan,
        run.sample,
        run.name,
        files,
        done,
        quantity,
        factor,
        _DELTA,
        remedy,
        rule,
        words,
        setting,
    )
