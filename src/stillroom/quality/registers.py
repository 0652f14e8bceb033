"""Rules about what is written down: samples, events, air, numbers of points and mountings, exclusions, prices."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from stillroom.core.fanlaws import STANDARD_DENSITY
from stillroom.quality.facts import FanFacts, MountingFacts, ReadingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.repeats import humped
from stillroom.quality.rules import Severity
from stillroom.quality.saying import about_fan, about_mounting, judged, listed
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits


def unregistered(fan: FanFacts) -> Iterator[Finding]:
    """Rule 1: a sample without a record."""
    for sample in sorted({each.sample for each in fan.mountings if not each.registered}):
        yield about_fan(
            1, fan.name, key_of("sample", fan.name, sample),
            f"sample {sample} of {fan.name} has no record", "where and when bought, lot, condition",
            subject=f"sample:{fan.name}/{sample}", test="write a row in the table of samples",
        )  # fmt: skip


def low_reynolds(fan: FanFacts) -> Iterator[Finding]:
    """Rule 23: points read through a nozzle below its Reynolds range."""
    runs = [run for each in fan.mountings for run in each.readings]
    low, points = sum(each.low_reynolds for each in runs), sum(len(each.flow) for each in runs)
    if low:
        yield about_fan(
            23, fan.name, judged(fan),
            f"{low} of {points} points were read through a nozzle at Re below 12,000",
            "Re of 12,000 at least; the coefficient's uncertainty is widened there",
            cause="so quiet a fan moves too little air for the nozzle",
            test="use the next smaller nozzle",
        )  # fmt: skip


def few_points(fan: FanFacts) -> Iterator[Finding]:
    """Rule 28: sweeps with too few points, none near an end, or a gap."""
    for mounting in fan.mountings:
        hump = mounting.curve is not None and humped([mounting.curve])
        said = {run.words: lacking_points(run, fan.limits, hump=hump) for run in mounting.readings}
        lacking = [f"{words}: {what}" for words, what in said.items() if what]
        if lacking:
            yield about_fan(
                28, fan.name, mounting.judged, f"{mounting.name}, {listed(lacking, 3)}",
                _enough(fan.limits), subject=mounting.subject, common="too few points",
                test="add the points that are missing before the fan leaves the rig",
            )  # fmt: skip


def _enough(limits: Limits) -> str:
    return (
        f"{limits.points:g} points ({limits.points_with_hump:g} where there is a hump), one within"
        f" {100 * limits.end:g} % of either end, no gap above {100 * limits.gap:g} % of the greatest flow"
    )


def lacking_points(run: ReadingFacts, limits: Limits, *, hump: bool) -> str:
    """What a fan's sweep lacks, in words, or ""."""
    flow = np.sort(run.flow)
    top = float(flow[-1])
    if len(flow) < (limits.points_with_hump if hump else limits.points):
        return f"{len(flow)} points" + (" and a hump" if hump and len(flow) >= limits.points else "")
    if top <= 0.0 or flow[0] > limits.end * top:
        return "none near shut-off"
    if float(run.pressure.min()) > limits.end * float(run.pressure.max()):
        return "none near free delivery"
    return "a gap" if float(np.diff(flow).max()) > limits.gap * top else ""


def air(fan: FanFacts) -> Iterator[Finding]:
    """Rule 31: air that wasn't recorded, or far from standard."""
    unrecorded = [m.name for m in fan.mountings if any("air not recorded" in run.marks for run in m.readings)]
    if unrecorded:
        yield about_fan(
            31, fan.name, key_of("air", judged(fan)), f"no air recorded with {listed(unrecorded)}",
            "temperature, barometric pressure and humidity beside each sweep",
            test="write down the three, or export them",
        )  # fmt: skip
    densities = {
        each.name: float(np.mean([run.density for run in each.runs]))
        for each in fan.mountings
        if each.runs and each.name not in unrecorded
    }
    far = {
        name: value
        for name, value in densities.items()
        if abs(value / STANDARD_DENSITY - 1.0) > fan.limits.density
    }
    if far:
        yield about_fan(
            31, fan.name, key_of("density", judged(fan)),
            f"density down to {min(far.values()):.3f} kg/m³ in {listed(list(far))}"
            if min(far.values()) < STANDARD_DENSITY
            else f"density up to {max(far.values()):.3f} kg/m³ in {listed(list(far))}",
            f"within {100 * fan.limits.density:g} % of 1.2 kg/m³",
            cause="high ground or warm air (then all is well), or a barometer that doesn't show the pressure"
            " of the place",
            test="compare the barometer with the weather station's pressure at station height",
        )  # fmt: skip


def few_mountings(fan: FanFacts) -> Iterator[Finding]:
    """Rule 40: fewer than two mountings, or than three of a fan that contends for the lead."""
    count = sum(not each.obstacle for each in fan.mountings)
    least = fan.limits.contender_mountings if fan.contends else fan.limits.mountings
    if 0 < count < least:
        times = {1: "once", 2: "twice"}.get(count, f"{count} times")
        contends = " and contends for the lead" if fan.contends else ""
        yield about_fan(
            40, fan.name, judged(fan), f"{fan.name} was mounted {times}{contends}", f"{least:g} mountings at least",
            test="mount it once more on another day", common=f"fewer than {least:g} mountings",
        )  # fmt: skip


def power_falling(mounting: MountingFacts) -> Iterator[Finding]:
    """Rule 44: electrical power that falls while the speed rises."""
    known = [(each.mean_speed, float(np.mean(each.power)), each) for each in mounting.sound_runs
             if each.mean_speed and each.power is not None]  # fmt: skip
    known.sort(key=lambda each: each[0])
    for (slow, less, _), (fast, more, run) in itertools.pairwise(known):
        if fast > 1.02 * slow and more < 0.98 * less:
            yield about_mounting(
                44, mounting,
                f"power falls from {less:.3f} W at {60 * slow:,.0f} rpm to {more:.3f} W at {60 * fast:,.0f} rpm",
                f"more power at more speed ({run.file})",
                cause="the ammeter's range, or a file under another setting's name",
                test="read the current at both settings once more",
            )  # fmt: skip
            return


def short_run_in(fan: FanFacts) -> Iterator[Finding]:
    """Rule 43: samples that had run for less than an hour, where their hours were written down."""
    least = fan.limits.run_in * 3600.0
    for name, sample in sorted(fan.samples.items()):
        used = any(each.sample == name for each in fan.mountings)
        if used and sample.hours is not None and sample.hours < least:
            yield about_fan(
                43, fan.name, key_of("run-in", as_json(sample)),
                f"sample {name} of {fan.name} had run for {sample.hours / 3600:g} h", f"{least / 3600:g} h at least",
                subject=f"sample:{fan.name}/{name}", cause="a new bearing's grease is still spreading",
                test="let it run for an hour at full speed before it is mounted", common="run-in too short",
            )  # fmt: skip


def exclusions(fan: FanFacts) -> Iterator[Finding]:
    """Rule 46: exclusions without reason or name, or made when a ranking with them had been kept."""
    for each in fan.exclusions:
        key = key_of("exclusion", as_json(each))
        missing = [word for word, value in (("reason", each.reason), ("name", each.by)) if not value.strip()]
        if missing:
            yield about_fan(
                46, fan.name, key, f"{each.subject} of {fan.name} was excluded without {' and '.join(missing)}",
                "a reason and a name", severity=Severity.BLOCKS, subject=f"decision:{each.finding}",
                test="decide it anew with both",
            )  # fmt: skip
        elif each.after_ranking:
            yield about_fan(
                46, fan.name, key,
                f"{each.subject} of {fan.name} was excluded by {each.by} on {each.time[:10]}, after a"
                " ranking with it had been kept",
                "rules applied before the rank is seen", subject=f"decision:{each.finding}",
                cause="the rank was known when the exclusion was made",
                test="let somebody who hasn't seen the rank decide by the rule alone",
                common="excluded after the rank was seen",
            )  # fmt: skip


def prices(fan: FanFacts) -> Iterator[Finding]:
    """Rule 48: a price without date or region."""
    for price in fan.prices:
        missing = [word for word, value in (("date", price.date), ("region", price.region)) if not value]
        if missing:
            yield about_fan(48, fan.name, key_of("price", as_json(price)),
                        f"price {price.price:g} {price.currency or ''} of {fan.name} without"
                        f" {' or '.join(missing)}", "both: prices move")  # fmt: skip


REGISTER_RULES = (
    unregistered,
    low_reynolds,
    few_points,
    air,
    few_mountings,
    short_run_in,
    exclusions,
    prices,
)
