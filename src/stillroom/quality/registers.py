"""Rules about what is written down: samples, instruments, events, claims, prices; and about points in general."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np

from stillroom.core.characteristic import Part, pressure_coefficients
from stillroom.core.fanlaws import STANDARD_DENSITY, flow_from_coefficient
from stillroom.quality.facts import FanFacts, InstrumentFacts, MountingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.records.products import Claim
from stillroom.vocabulary import quantity_for, to_si

BOX = 0.10
LEAST_POINTS = 8
END, GAP = 0.10, 0.15
DENSITY = 0.05
LEAST_MOUNTINGS = 2


def _mark(
    rule: int,
    fan: FanFacts,
    key: str,
    found: str,
    expected: str,
    *,
    subject: str = "",
    cause: str = "",
    test: str = "",
    place: str = "",
) -> Finding:
    subject = subject or f"fan:{fan.name}"
    return Finding(rule, subject, key, Severity.MARKS, found, expected, cause, test, place, (fan.name,))


def _judged(fan: FanFacts) -> str:
    """Key of all that is judged of a fan."""
    return key_of("fan", fan.name, [each.judged for each in fan.mountings])


def _listed(names: Sequence[str], most: int = 4) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def unregistered(fan: FanFacts) -> Iterator[Finding]:
    """Rule 1: a sample without a record."""
    for sample in sorted({each.sample for each in fan.mountings if not each.registered}):
        yield _mark(
            1, fan, key_of("sample", fan.name, sample),
            f"sample {sample} of {fan.name} has no record", "where and when bought, lot, condition",
            subject=f"sample:{fan.name}/{sample}", test="write a row in the table of samples",
        )  # fmt: skip


def both_sides_of_an_event(fan: FanFacts) -> Iterator[Finding]:
    """Rule 4: mountings before and after an event that changes results are mixed in one number."""
    for event in fan.events:
        on_rig = [each for each in fan.mountings if each.date and event.rig in (None, each.rig)]
        before = [each.name for each in on_rig if each.date < event.time[:10]]
        after = [each.name for each in on_rig if each.date >= event.time[:10]]
        if before and after:
            yield _mark(
                4, fan, key_of("event", event.name, _judged(fan)),
                f"{event.text!r} ({event.time[:10]}) lies between {_listed(before)} and {_listed(after)}",
                "a bridge: the reference fan measured before and after it",
                cause="the rig may read otherwise since", place=event.time,
                test="measure the reference fan now and lay it over its last curve",
            )  # fmt: skip


def low_reynolds(fan: FanFacts) -> Iterator[Finding]:
    """Rule 23: points read through a nozzle below its Reynolds range."""
    runs = [run for each in fan.mountings for run in each.runs]
    low, points = sum(each.low_reynolds for each in runs), sum(len(each.flow) for each in runs)
    if low:
        yield _mark(
            23, fan, _judged(fan),
            f"{low} of {points} points were read through a nozzle at Re below 12,000",
            "Re of 12,000 at least; the coefficient's uncertainty is widened there",
            cause="so quiet a fan moves too little air for the nozzle",
            test="use the next smaller nozzle",
        )  # fmt: skip


def few_points(fan: FanFacts) -> Iterator[Finding]:
    """Rule 28: sweeps with too few points, none near an end, or a gap."""
    for mounting in fan.mountings:
        said = {run.words: _lacking(run) for run in mounting.runs}
        lacking = [f"{words}: {what}" for words, what in said.items() if what]
        if lacking:
            yield _mark(
                28, fan, mounting.judged, f"{mounting.name}, {_listed(lacking, 3)}",
                "8 points, one within 10 % of either end, no gap above 15 % of the greatest flow",
                subject=mounting.subject, test="add the points that are missing before the fan leaves the rig",
            )  # fmt: skip


def _lacking(run: RunFacts) -> str:
    flow = np.sort(run.flow)
    top = float(flow[-1])
    if len(flow) < LEAST_POINTS:
        return f"{len(flow)} points"
    if top <= 0.0 or flow[0] > END * top:
        return "none near shut-off"
    if float(run.pressure.min()) > END * float(run.pressure.max()):
        return "none near free delivery"
    return "a gap" if float(np.diff(flow).max()) > GAP * top else ""


def air(fan: FanFacts) -> Iterator[Finding]:
    """Rule 31: air that wasn't recorded, or far from standard."""
    unrecorded = [m.name for m in fan.mountings if any("air not recorded" in run.marks for run in m.runs)]
    if unrecorded:
        yield _mark(
            31, fan, key_of("air", _judged(fan)), f"no air recorded with {_listed(unrecorded)}",
            "temperature, barometric pressure and humidity beside each sweep",
            test="write down the three, or export them",
        )  # fmt: skip
    densities = {
        each.name: float(np.mean([run.density for run in each.runs]))
        for each in fan.mountings
        if each.runs and each.name not in unrecorded
    }
    far = {name: value for name, value in densities.items() if abs(value / STANDARD_DENSITY - 1.0) > DENSITY}
    if far:
        yield _mark(
            31, fan, key_of("density", _judged(fan)),
            f"density down to {min(far.values()):.3f} kg/m³ in {_listed(list(far))}"
            if min(far.values()) < STANDARD_DENSITY
            else f"density up to {max(far.values()):.3f} kg/m³ in {_listed(list(far))}",
            "within 5 % of 1.2 kg/m³",
            cause="high ground or warm air (then all is well), or a barometer that doesn't show the pressure"
            " of the place",
            test="compare the barometer with the weather station's pressure at station height",
        )  # fmt: skip


def few_mountings(fan: FanFacts) -> Iterator[Finding]:
    """Rule 40: fewer than two mountings."""
    if len(fan.mountings) == 1:
        yield _mark(40, fan, _judged(fan), f"{fan.name} was mounted once", "two mountings at least",
                    test="mount it once more on another day")  # fmt: skip


def power_falling(mounting: MountingFacts) -> Iterator[Finding]:
    """Rule 44: electrical power that falls while the speed rises."""
    known = [(each.mean_speed, float(np.mean(each.power)), each) for each in mounting.sound_runs
             if each.mean_speed and each.power is not None]  # fmt: skip
    known.sort(key=lambda each: each[0])
    for (slow, less, _), (fast, more, run) in itertools.pairwise(known):
        if fast > 1.02 * slow and more < 0.98 * less:
            yield Finding(
                44, mounting.subject, mounting.judged, Severity.BLOCKS,
                f"power falls from {less:.3f} W at {60 * slow:.0f} rpm to {more:.3f} W at {60 * fast:.0f} rpm",
                "more power at more speed", "the ammeter's range, or a file under another setting's name",
                "read the current at both settings once more", run.file, (mounting.fan,), (mounting.name,),
            )  # fmt: skip
            return


def prices(fan: FanFacts) -> Iterator[Finding]:
    """Rule 48: a price without date or region."""
    for price in fan.prices:
        missing = [word for word, value in (("date", price.date), ("region", price.region)) if not value]
        if missing:
            yield _mark(48, fan, key_of("price", as_json(price)),
                        f"price {price.price:g} {price.currency or ''} of {fan.name} without"
                        f" {' or '.join(missing)}", "both: prices move")  # fmt: skip


# --- the box ---------------------------------------------------------------------------------------------


def claims(fan: FanFacts) -> Iterator[Finding]:
    """Rules 42 and 49: what the box claims, where it can be checked."""
    for claim in fan.claims:
        if not claim.condition:
            yield _mark(49, fan, key_of("claim", as_json(claim)),
                        f"{claim.quantity} of {claim.value:g} {claim.unit} without a condition",
                        "the condition as printed; without it the claim is not checkable")  # fmt: skip
            continue
        measured = [value for each in fan.mountings if (value := _measured(each, claim)) is not None]
        if not measured:
            continue
        claimed, mean = to_si(claim.value, claim.unit), float(np.mean(measured))
        if abs(mean / claimed - 1.0) > BOX:
            samples = len({each.sample for each in fan.mountings})
            yield _mark(
                42, fan, key_of("claim", as_json(claim), _judged(fan)),
                f"{claim.quantity} is {100 * (mean / claimed - 1):+.0f} % off the box's {claim.value:g}"
                f" {claim.unit} ({claim.condition}), by {samples} sample{'s' if samples > 1 else ''}",
                "within 10 % of the claim" + ("" if samples > 1 else "; a failure needs a second sample"),
            )  # fmt: skip


def _measured(mounting: MountingFacts, claim: Claim) -> float | None:
    """What a claim speaks of at full setting, in SI at 1.2 kg/m³; None where it can't be told."""
    quantity, run = quantity_for(claim.quantity), _full(mounting)
    if quantity is None or run is None or run.mean_speed is None or run.speed is None:
        return None
    condition = (claim.condition or "").casefold()
    if quantity.name == "speed":
        return float(run.speed[int(np.argmax(run.flow))])
    if quantity.name == "static_pressure" and "shut" in condition:
        first = int(np.argmin(run.flow))
        return float(run.pressure[first] * STANDARD_DENSITY / run.density) if run.flow[first] <= 0.0 else None
    if quantity.name == "flow" and "free" in condition:
        return _free_airflow(mounting, run)
    return None


def _full(mounting: MountingFacts) -> RunFacts | None:
    """The sweep at full duty or 12 V that the fit uses."""
    return next((each for each in mounting.sound_runs if each.setting in (1.0, 12.0)), None)


def _free_airflow(mounting: MountingFacts, run: RunFacts) -> float | None:
    """Flow where the curve's pressure is zero, at the speed read nearest to it."""
    if mounting.curve is None or run.speed is None:
        return None
    phi = np.linspace(0.5 * mounting.curve.reach[1], 1.1 * mounting.curve.reach[1], 200)
    psi = pressure_coefficients(mounting.curve, phi, float(np.median(run.reynolds)), part=Part.CENTRAL)[0]
    crossed = np.flatnonzero((psi[:-1] > 0.0) & (psi[1:] <= 0.0))
    if not len(crossed):
        return None
    speed = float(run.speed[int(np.argmax(run.flow))])
    return float(flow_from_coefficient(phi[crossed[-1]], speed, mounting.diameter))


# --- instruments -------------------------------------------------------------------------------------------


def instruments(facts: Sequence[InstrumentFacts]) -> Iterator[Finding]:
    """Rule 2: instruments past due, or without calibration and accuracy."""
    for each in facts:
        subject = f"instrument:{each.name}"
        key = key_of("instrument", each.name, each.calibration, each.due, list(each.mountings))
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


FAN_RULES = (
    unregistered,
    both_sides_of_an_event,
    low_reynolds,
    few_points,
    air,
    few_mountings,
    prices,
)
