"""Rules on instruments and on leak tests of rigs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from stillroom.quality.facts import InstrumentFacts, RigFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits


def instruments(facts: Sequence[InstrumentFacts]) -> Iterator[Finding]:
    """Rule 2: instruments past due, or without calibration and accuracy."""
    for each in facts:
        subject = f"instrument:{each.name}"
        key = key_of(
            "instrument", each.name, each.calibration, each.due, list(each.mountings), list(each.obstacles)
        )
        late = each.calibration and each.due and each.last > each.due
        if late:
            yield Finding(
                2, subject, key, Severity.BLOCKS,
                f"{each.name} was due for calibration on {each.due} and used until {each.last}",
                "a calibration in force on the day of the run", "the due date was missed",
                "compare it with a second instrument now; calibrate it, then add the calibration",
                "", each.fans, each.mountings,
            )  # fmt: skip
        elif not each.calibration and not each.accuracy:
            yield Finding(2, subject, key, Severity.MARKS, f"{each.name} has neither calibration nor accuracy",
                          "one of the two", test="write its accuracy in one line, such as ± 1 % of reading",
                          fans=each.fans)  # fmt: skip


def leak_tests(facts: Sequence[RigFacts], limits: Limits) -> Iterator[Finding]:
    """Rule 25: a chamber without a leak test marks; one that is too old, or that found a leak, blocks."""
    for rig in facts:
        if not rig.tests:
            yield _untested(rig)
            continue
        yield from _too_old(rig, limits)
        yield from _leaking(rig, limits)


def _untested(rig: RigFacts) -> Finding:
    fans = tuple(sorted({fan for _, _, fan, _ in rig.uses}))
    return Finding(
        25, f"rig:{rig.name}", key_of("leak test", rig.name), Severity.MARKS,
        f"no leak test of {rig.name} in the log", "a leak test every 30 days",
        "nobody wrote one down", "close all nozzles, pressurise the chamber, read the flow that keeps the"
        " pressure; note it: stillroom note 'leak test …'", fans=fans,
    )  # fmt: skip


def _too_old(rig: RigFacts, limits: Limits) -> Iterator[Finding]:
    """Mountings made longer after the last leak test before them than the limit allows."""
    tests = [date.fromisoformat(day) for day, _ in rig.tests]
    late: list[tuple[int, str, str, str]] = []
    for told, mounting, fan, key in rig.uses:
        before = [each for each in tests if told and each <= date.fromisoformat(told)]
        if before and (age := (date.fromisoformat(told) - max(before)).days) > limits.leak_test_age:
            late.append((age, mounting, fan, key))
    if late:
        yield Finding(
            25, f"rig:{rig.name}", key_of("leak test", rig.name, rig.tests, sorted(key for *_, key in late)),
            Severity.BLOCKS,
            f"the leak test of {rig.name} was up to {max(late)[0]} days old when {len(late)}"
            f" mounting{'s were' if len(late) > 1 else ' was'} made",
            f"{limits.leak_test_age:g} days at most", "the leak test was not repeated",
            "test the chamber now: if it is as tight as before, accept with that as the reason",
            fans=tuple(sorted({fan for _, _, fan, _ in late})),
            mountings=tuple(sorted({mounting for _, mounting, _, _ in late})),
            common="leak test too old",
        )  # fmt: skip


def _leaking(rig: RigFacts, limits: Limits) -> Iterator[Finding]:
    """The leak that a test found, against the smallest flow that is published."""
    found = [(day, leak) for day, leak in rig.tests if leak is not None]
    if not found or rig.smallest is None:
        return
    day, leak = max(found, key=lambda each: each[1])
    if leak > limits.leak * rig.smallest:
        used = [each for each in rig.uses if each[0] >= day]
        yield Finding(
            25, f"rig:{rig.name}", key_of("leak", rig.name, day, leak), Severity.BLOCKS,
            f"{rig.name} leaked {3600 * leak:.2f} m³/h on {day}: {100 * leak / rig.smallest:.1f} % of the smallest"
            f" flow that is published ({3600 * rig.smallest:.1f} m³/h)",
            f"{100 * limits.leak:g} % at most", "a seal, a cable gland or a closed nozzle's plug",
            "pressurise the chamber with all nozzles closed; feel and listen along the seals",
            fans=tuple(sorted({fan for _, _, fan, _ in used})),
            mountings=tuple(sorted({mounting for _, mounting, _, _ in used})),
        )  # fmt: skip
