"""Steps that are planned or told for the runs of a mounting, as the method is given them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TypeVar

from stillroom.errors import BadInput
from stillroom.lab.book import SETTINGS, Placed
from stillroom.lab.heat.placing import HeatRun
from stillroom.methods.heat.told import StepTold
from stillroom.records.acts import Step

Value = TypeVar("Value")


def steps_of(
    steps: Mapping[str, Step], runs: Sequence[Sequence[HeatRun]]
) -> tuple[tuple[StepTold, ...], ...]:
    """The steps of each run of a mounting, in their order.

    Parameters
    ----------
    steps : the lab's records. runs : of each run its files.

    A step that names a session belongs to its run; one that names the mounting, or rig, fan and sample, to all runs of
    the mounting, but where its ends are minutes since the start of a run, to the first alone.

    Raises
    ------
    BadInput : an end that is neither a clock time nor a number of minutes.
    """
    return tuple(tuple(_of_run(steps.values(), run, is_first=at == 0)) for at, run in enumerate(runs))


def _of_run(steps: Iterable[Step], run: Sequence[HeatRun], *, is_first: bool) -> list[StepTold]:
    own = next((each for each in run if each.names_fan), run[0])
    sessions = {each.session for each in run if each.session}
    found = [
        _told(each, min(one.moment for one in run if one.moment) if any(one.moment for one in run) else "")
        for each in steps
        if (each.session in sessions if each.session else is_of(each, own.placed))
    ]
    kept = [each for each in found if is_first or each.moment or each.first is None]
    return sorted(kept, key=lambda each: each.number)


def is_of(step: Step, placed: Placed) -> bool:
    """Whether a step that names no session is of the mounting, or of the fan and sample, of a run."""
    if step.mounting:
        return step.mounting == placed.mounting
    if step.fan and step.fan.casefold() != placed.fan.casefold():
        return False
    if step.sample and step.sample.lstrip("sS") != placed.sample.lstrip("sS"):
        return False
    return bool(step.fan) and step.rig in {None, "", placed.rig}


def _told(step: Step, moment: str) -> StepTold:
    kind = next((name for name in SETTINGS if getattr(step, name) is not None), "")
    first, at = _time(step, step.start, moment)
    last, until = _time(step, step.stop, at or moment)
    return StepTold(
        number=step.step,
        first=first,
        last=last,
        moment=at,
        until=until,
        kind=kind,
        setting=getattr(step, kind) if kind else None,
        noise=step.noise,
    )


def _time(step: Step, text: str | None, after: str) -> tuple[float | None, str]:
    """An end of a step: seconds since the run's start, or a moment; of a clock time the first one after `after`.

    Raises
    ------
    BadInput : neither; a clock time for a run of which no file tells the day.
    """
    words = (text or "").strip()
    if not words:
        return None, ""
    if ":" not in words:
        return _minutes(step, words), ""
    try:
        if "-" in words:
            return None, datetime.fromisoformat(words.replace(" ", "T")).isoformat(timespec="seconds")
        if not after:
            raise BadInput(
                f"step {step.name}",
                found=repr(words),
                expected="minutes, as no file of its run tells the time",
            )
        start = datetime.fromisoformat(after).replace(tzinfo=None)
        at = datetime.combine(start.date(), datetime.strptime(words, _clock(words)).time())
    except ValueError:
        raise _wrong(step, words) from None
    earlier = at < start - timedelta(hours=12.0)
    return None, (at + timedelta(days=1) if earlier else at).isoformat(timespec="seconds")


def _clock(words: str) -> str:
    return "%H:%M:%S" if words.count(":") > 1 else "%H:%M"


def _minutes(step: Step, words: str) -> float:
    number = words.removesuffix("min").strip().replace(",", ".")
    try:
        return 60.0 * float(number)
    except ValueError:
        raise _wrong(step, words) from None


def _wrong(step: Step, words: str) -> BadInput:
    return BadInput(
        f"step {step.name}",
        found=repr(words),
        expected="a clock time such as 09:40, or minutes since the run's start",
    )
