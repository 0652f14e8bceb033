"""From what is seen to one word: each rule alone, and who comes first."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.live.deciding import FileSeen, Seen, StepSeen, decide
from stillroom.live.states import State
from stillroom.methods.heat.told import StepTold
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity

FILE = FileSeen("a.csv", 0.0, 2.0, True)
FORECAST = {"final": 12.4, "low": 12.3, "high": 12.5, "wait": 240.0, "u": 0.05}


def step(number: int, duty: float, how: StepHow = StepHow.STEADY, rise: float = 12.0) -> HeatStep:
    return HeatStep(
        number=number, first=0.0, last=900.0, moment="", setting_kind="duty", setting=duty, noise=None, speed=20.0,
        u_speed=0.1, hot=310.0, air=295.0, delta=rise, delta_nominal=rise if how is not StepHow.NOT_STEADY else np.nan,
        u_own=0.01, power=300.0, power_sd=0.1, nominal=300.0, conductance=25.0, how=how,
        forecast=FORECAST if how is StepHow.FORECAST else None, tau=300.0, span=3.0,
    )  # fmt: skip


def seen(*steps: HeatStep, **more: object) -> Seen:
    told = [dataclasses.replace(each, number=at + 1) for at, each in enumerate(steps)]
    planned: tuple[StepTold, ...] = more.get("planned", ())  # type: ignore[assignment]
    numbers = [next((one.number for one in planned if one.setting == each.setting), None) for each in told]
    given: dict[str, object] = {"rig": "heat-1", "grows": True, "files": (FILE,), "value": 12.1} | more
    return Seen(steps=tuple(StepSeen(*each) for each in zip(told, numbers, strict=True)), **given)  # type: ignore[arg-type]


PLAN = (StepTold(1, kind="duty", setting=0.4), StepTold(2, kind="duty", setting=0.8))


def test_before_the_first_reading() -> None:
    assert decide(Seen(rig="heat-1")).state is State.SETTLING
    assert (
        decide(Seen(rig="heat-1", files=(FILE,), why="no hot probe read yet")).reason
        == "no hot probe read yet"
    )


def test_settling_says_what_is_left_and_for_how_long() -> None:
    state = decide(seen(step(1, 0.4, StepHow.FORECAST)))
    assert state.state is State.SETTLING
    assert state.reason == "+0.30 K to go, about 4 min"
    assert (state.wait, state.forecast.final if state.forecast else None) == (240.0, 12.4)
    early = dataclasses.replace(step(1, 0.4, StepHow.NOT_STEADY), span=1.3)
    assert decide(seen(early)).reason == "too early for a forecast: 1.3 of 2 time constants"
    assert decide(seen(early)).forecast is None
    assert decide(seen(step(1, 0.4), grows=False, begun=20.0)).reason == "a new setting since 20 s"


def test_no_forecast_after_two_time_constants_says_why() -> None:
    """It is not "too early: 4.6 of 2 time constants"."""
    why = "not steady: forecast of a disturbed series: found 20 of 60 means off any curve; expected fewer"
    disturbed = dataclasses.replace(step(1, 0.4, StepHow.NOT_STEADY), span=4.6, marks=(why,))
    reason = "no forecast yet: 20 of 60 means off any curve; expected fewer"
    assert decide(seen(disturbed)).reason == reason


def test_a_forecast_that_is_accepted_is_said_to_be_one() -> None:
    moving = decide(seen(step(1, 0.4, StepHow.FORECAST), planned=PLAN, accept=0.11))
    assert moving.state is State.STEADY
    assert moving.reason == "its forecast is accepted; set 80 % next"


def test_steady_says_what_comes_next() -> None:
    state = decide(seen(step(1, 0.4), planned=PLAN))
    assert (state.state, state.reason, state.step, state.of) == (State.STEADY, "set 80 % next", 1, 2)
    again = decide(seen(step(1, 0.4), step(2, 0.8), planned=PLAN, repeat=True))
    assert (again.state, again.reason, again.of) == (State.STEADY, "set 40 % once more", 3)


def test_ready_needs_all_settings_the_repeat_and_the_files() -> None:
    done = (step(1, 0.4), step(2, 0.8), step(3, 0.4, rise=12.05))
    ready = decide(seen(*done, planned=PLAN, repeat=True))
    assert (ready.state, ready.wait) == (State.READY, 0.0)
    assert ready.reason == "3 of 3 settings passed; the repeat agrees; the files are complete"
    assert decide(seen(*done[:1], planned=PLAN)).state is State.STEADY
    assert decide(seen(*done[:2], planned=PLAN, repeat=True)).state is State.STEADY
    assert decide(seen(*done[:2], planned=PLAN)).state is State.READY
    assert decide(seen(done[0])).reason.startswith("1 of 1 settings passed (nothing was planned)")


@pytest.mark.parametrize(
    ("file", "word"),
    [
        (FileSeen("b.csv", 90.0, 60.0, True), "lags 90 s behind"),
        (FileSeen("b.csv", 0.0, 2.0, False), "the last line of b.csv is not whole"),
    ],
)
def test_files_that_are_not_complete_keep_the_fan_on(file: FileSeen, word: str) -> None:
    state = decide(seen(step(1, 0.4), files=(FILE, file)))
    assert state.state is State.STEADY
    assert word in state.reason


def test_a_logger_that_stopped_is_checked() -> None:
    state = decide(seen(step(1, 0.4), files=(FILE, FileSeen("b.csv", 400.0, 300.0, True))))
    assert state.state is State.CHECK
    assert "b.csv stopped 7 min before the others" in state.reason
    assert "test: look at its display" in state.reason
    all_of_them = decide(seen(step(1, 0.4, StepHow.FORECAST), files=(FileSeen("a.csv", 0.0, 300.0, True),)))
    assert all_of_them.state is State.CHECK
    assert all_of_them.reason.startswith("no new reading for 5 min")
    over = decide(seen(step(1, 0.4), files=(FileSeen("a.csv", 0.0, 3000.0, True),)))
    assert over.state is State.READY  # all was done before it stopped


def test_a_repeat_that_disagrees_is_checked() -> None:
    state = decide(seen(step(1, 0.4), step(2, 0.8), step(3, 0.4, rise=12.3), planned=PLAN, repeat=True))
    assert state.state is State.CHECK
    assert "the repeat of step 1 (40 %) reads +0.30 K; expected within 0.15 K" in state.reason


def test_a_step_that_was_cut_is_checked_until_it_was_run_again() -> None:
    cut = decide(seen(step(1, 0.4, StepHow.FORECAST), step(2, 0.8), planned=PLAN))
    assert cut.state is State.CHECK
    assert "step 1 (40 %) ended a forecast only" in cut.reason
    again = decide(seen(step(1, 0.4, StepHow.FORECAST), step(2, 0.8), step(3, 0.4), planned=PLAN))
    assert again.state is State.READY


def test_a_forecast_passes_within_what_is_told() -> None:
    short = (step(1, 0.4, StepHow.FORECAST), step(2, 0.8))
    assert decide(seen(*short, planned=PLAN, accept=0.11)).state is State.READY
    assert decide(seen(*short, planned=PLAN, accept=0.09)).state is State.CHECK


def test_what_blocks_comes_first_with_cause_and_test() -> None:
    finding = Finding(
        36, "mounting:x", "k", Severity.BLOCKS, "the load wanders", "0.5 %", "the mains", "read the volts"
    )
    mark = dataclasses.replace(finding, severity=Severity.MARKS)
    state = decide(seen(step(1, 0.4), findings=(mark, finding)))
    assert state.state is State.CHECK
    assert state.reason == "the load wanders; expected 0.5 %; probable cause: the mains; test: read the volts"
    assert [each["severity"] for each in state.findings] == ["marks", "blocks"]
    assert decide(seen(step(1, 0.4), findings=(mark,))).state is State.READY


def test_a_file_that_can_not_be_read_is_checked() -> None:
    state = decide(seen(step(1, 0.4), files=(FILE, FileSeen("b.csv", 0.0, 2.0, True, "no unit"))))
    assert (state.state, state.reason) == (State.CHECK, "b.csv can't be read: no unit")


def test_noise_about_the_tolerance_does_not_undo_steadiness() -> None:
    held = seen(step(1, 0.4, StepHow.FORECAST))
    kept = dataclasses.replace(held, steps=(dataclasses.replace(held.steps[0], was_steady=True),))
    assert decide(held).state is State.SETTLING
    assert decide(kept).state is State.READY
