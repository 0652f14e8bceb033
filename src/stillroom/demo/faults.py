"""The account of what was made wrong on purpose, told from the plan of the mountings."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.demo.bench import CERTIFICATES, Disturbance
from stillroom.demo.catalogue import DENSE_OBSTACLE, REFERENCE_FAN, REFERENCE_OBSTACLE, STALLING
from stillroom.demo.fan import PWM_FREQUENCY
from stillroom.demo.plan import CFM_OVER_M3H, MMH2O_OVER_PA, Mounting
from stillroom.demo.round import DRIFT, DRIFT_DAYS, Round
from stillroom.demo.saving import Saved
from stillroom.demo.tables import SMALL_PRINT
from stillroom.demo.truth import Fault

_EXCLUDE_SWEEP = "exclude the sweep, or repeat it"
_EXCLUDE = "exclude the mounting, or repeat it"
_AIRFLOW = "airflow of this mounting through an obstacle"


def fault_records(mounting: Mounting, saved: tuple[Saved, ...]) -> Iterator[Fault]:
    """The faults of one mounting.

    Parameters
    ----------
    saved : its sweeps as they were saved.
    """
    all_files = _files(saved)
    if mounting.really:
        yield _record(
            mounting, all_files, "wrong sample",
            f"{mounting.sample}'s curve equals {mounting.really}'s: mounted under the wrong number",
            f"{mounting.really} was on the rig and {mounting.sample} was written down", "", None,
            f"the fan's airflow as the mean over its samples; {mounting.sample} alone",
            f"write {mounting.really} in place of {mounting.sample}, or exclude the mounting",
            1, f"{mounting.really} was mounted under the number of {mounting.sample}",
        )  # fmt: skip
    if mounting.swapped is not None:
        words = " and ".join(f"{each:g} %" for each in mounting.swapped)
        yield _record(
            mounting, all_files, "swapped settings", f"the files of {words} are exchanged",
            f"the sweeps at {words} were saved under each other's name", "", None,
            "speeds at these two settings", "exchange the two files' settings", 29, "exchanged",
        )  # fmt: skip
    if mounting.frequency != PWM_FREQUENCY:
        yield _record(
            mounting, all_files, "slow PWM generator", "the PWM generator runs at too low a frequency",
            f"the spare generator runs at {mounting.frequency / 1000:g} kHz: the fan takes its duty for a higher one",
            "pwm_frequency", None, "speeds at the same duties", _EXCLUDE, 21, "generator",
        )  # fmt: skip
    if mounting.always != Disturbance():
        yield _explained(mounting, mounting.always, all_files, "")
    for setting, wrong in mounting.at.items():
        own = tuple(each for each in saved if each.sweep.setting and each.sweep.setting.value == setting)
        assert own[0].sweep.setting is not None
        yield _explained(mounting, wrong, _files(own), own[0].sweep.setting.words)


def round_records(plan: Round) -> Iterator[Fault]:
    """What went wrong in no single mounting: of the whole round only."""
    if not plan.full:
        return
    checks = [each for each in plan.mountings if each.check and each.day in DRIFT_DAYS]
    lost = f"{100 * DRIFT * len(DRIFT_DAYS):.1f} %"
    yield Fault(
        "reference drift", "the reference fan's airflow drifts from day to day", REFERENCE_FAN, "s1",
        checks[-1].name, (), f"the tubes of the nozzle gauge leaked: by {lost} of the flow at the end", "flow",
        None, "airflow of the reference fan", "bridge the days, or repeat their mountings", 3,
        "the nozzles' gauge",
    )  # fmt: skip
    yield Fault(
        "radiator swapped", f"{REFERENCE_OBSTACLE} was exchanged for another of its kind", "", "", "",
        (f"exports/obstacles/{REFERENCE_OBSTACLE}-v2.csv",), "the first radiator leaked", "", None,
        f"airflow through {REFERENCE_OBSTACLE}", "rank through one version", 0, "version",
    )  # fmt: skip
    yield Fault(
        "in stall", f"{STALLING} stalls on the dense radiator", STALLING, "", "", (),
        "the curve meets the obstacle's three times", "", None, f"airflow through {DENSE_OBSTACLE}",
        "publish the range", 32, "times",
    )  # fmt: skip
    for fan in SMALL_PRINT:
        yield Fault(
            f"small print, {fan}", "the box doesn't say under what condition", fan, "", "", (),
            "the condition stands in print too small to be copied", "flow", None, "the claim's verdict",
            "look for the condition in the maker's sheet", 49, "condition",
        )  # fmt: skip


def _explained(mounting: Mounting, wrong: Disturbance, files: tuple[str, ...], setting: str) -> Fault:
    if wrong.speed_factor != 1.0:
        return _record(
            mounting, files, "wrong pulses", "wrong pulses per revolution",
            "the logger counted 1 pulse per revolution where the fan gives 2", "speed", wrong.speed_factor,
            "speed at 100 % duty of this mounting", f"divide the speed by {wrong.speed_factor:g}",
            20, "wrong pulses per revolution: the speed reads twice", setting,
        )  # fmt: skip
    if wrong.plugged:
        return _record(
            mounting, files, "plugged nozzle", f"nozzle {wrong.plugged} is listed open but is plugged",
            f"{wrong.plugged} let no air through wherever it is listed", "flow", None,
            f"{_AIRFLOW}; the flow reads high by the share of {wrong.plugged}'s area",
            f"strike {wrong.plugged} from the lists of this mounting, or exclude the mounting",
            24, f"nozzle {wrong.plugged} is listed open but is plugged", setting,
        )  # fmt: skip
    if wrong.bore is not None:
        name, bore = wrong.bore
        return _record(
            mounting, files, "wrong nozzle", f"the bore of nozzle {name} is wrong",
            f"a nozzle of {1000 * bore:.1f} mm sat in the place of {name}, {CERTIFICATES[name]:.3f} mm", "flow",
            None, f"{_AIRFLOW}; the flow reads high wherever {name} is open", _EXCLUDE,
            24, f"the bore of nozzle {name} is wrong", setting,
        )  # fmt: skip
    if wrong.leak:
        return _record(
            mounting, files, "leak", "the chamber leaks since the seal was changed",
            f"air escapes through {wrong.leak * 1e6:.0f} mm² before the nozzles", "flow", None,
            f"{_AIRFLOW}; shut-off reads low and the error grows with pressure",
            "exclude the mounting and repeat it with a sound seal", 25, "leak before the nozzles", setting,
        )  # fmt: skip
    return _gauge_fault(mounting, wrong, files, setting)


def _gauge_fault(mounting: Mounting, wrong: Disturbance, files: tuple[str, ...], setting: str) -> Fault:
    if wrong.pressure_factor != 1.0:
        return _record(
            mounting, files, "mmH₂O as Pa", "static pressure in mmH₂O labelled Pa",
            f"the column holds mmH₂O: {1 / MMH2O_OVER_PA:.3f} of the pressure in Pa", "static_pressure",
            wrong.pressure_factor, "shut-off pressure of this sweep",
            f"read the column as mmH₂O (× {MMH2O_OVER_PA})", 29, "in mmH₂O and was read as Pa", setting,
        )  # fmt: skip
    if wrong.flow_factor != 1.0:
        return _record(
            mounting, files, "CFM as m³/h", "airflow in CFM labelled m³/h",
            f"the column holds CFM: {1 / CFM_OVER_M3H:.3f} of the airflow in m³/h", "flow",
            wrong.flow_factor, "free airflow of this sweep", f"read the column as CFM (× {CFM_OVER_M3H:.3f})",
            29, "in CFM and was read as m³/h", setting,
        )  # fmt: skip
    if wrong.zero_drift:
        return _record(
            mounting, files, "zero drift", "the pressure zero moved within the sweep",
            f"the gauge's zero moved by {wrong.zero_drift:g} Pa from the first to the last point",
            "static_pressure", None, "pressure at free delivery of this sweep", _EXCLUDE_SWEEP,
            26, "the gauge drifts", setting,
        )  # fmt: skip
    share = f"{100 * wrong.slowing:.0f} %"
    return _record(
        mounting, files, "drifting speed", "the speed drifted within the sweep",
        f"the fan lost {share} of its speed from the first to the last point and the logger's long "
        "average did not show it", "speed", None,
        f"departure of this sweep's last points from the fan's curve (speed reads up to {share} high)",
        _EXCLUDE_SWEEP, 29, "the speed drifted within the sweep", setting,
    )  # fmt: skip


def _files(saved: tuple[Saved, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(each.file for each in saved))


def _record(
    mounting: Mounting,
    files: tuple[str, ...],
    name: str,
    cause: str,
    done: str,
    quantity: str,
    factor: float | None,
    before_after: str,
    remedy: str,
    rule: int,
    words: str,
    setting: str = "",
) -> Fault:
    return Fault(
        name=name,
        cause=cause,
        fan=mounting.fan,
        sample=mounting.sample,
        mounting=mounting.name,
        files=files,
        done=done,
        quantity=quantity,
        factor=factor,
        before_after=before_after,
        remedy=remedy,
        rule=rule,
        words=words,
        setting=setting,
    )
