"""The account of what was made wrong on purpose, told from the plan of the mountings."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.demo.bench import Disturbance
from stillroom.demo.plan import CFM_OVER_M3H, MMH2O_OVER_PA, Mounting
from stillroom.demo.truth import Fault

_EXCLUDE_SWEEP = "exclude the sweep, or repeat it"


def fault_records(mounting: Mounting, files: dict[int, str]) -> Iterator[Fault]:
    """The faults of one mounting.

    Parameters
    ----------
    files : the mounting's exports by duty [%].
    """
    if mounting.really:
        yield _record(
            mounting, tuple(files.values()), "wrong sample",
            f"{mounting.sample}'s curve equals {mounting.really}'s: mounted under the wrong number",
            f"{mounting.really} was on the rig and {mounting.sample} was written down", "", None,
            f"the fan's airflow as the mean over its samples; {mounting.sample} alone",
            f"write {mounting.really} in place of {mounting.sample}, or exclude the mounting",
        )  # fmt: skip
    if mounting.always != Disturbance():
        yield _explained(mounting, mounting.always, tuple(files.values()))
    for duty, wrong in mounting.at_duty.items():
        yield _explained(mounting, wrong, (files[duty],))


def _explained(mounting: Mounting, wrong: Disturbance, files: tuple[str, ...]) -> Fault:
    airflow = "airflow of this mounting through an obstacle"
    if wrong.speed_factor != 1.0:
        return _record(
            mounting, files, "wrong pulses", "wrong pulses per revolution",
            "the logger counted 1 pulse per revolution where the fan gives 2", "speed", wrong.speed_factor,
            "speed at 100 % duty of this mounting", f"divide the speed by {wrong.speed_factor:g}",
        )  # fmt: skip
    if wrong.plugged:
        return _record(
            mounting, files, "plugged nozzle", f"nozzle {wrong.plugged} is listed open but is plugged",
            f"{wrong.plugged} let no air through wherever it is listed", "flow", None,
            f"{airflow}; the flow reads high by the share of {wrong.plugged}'s area",
            f"strike {wrong.plugged} from the lists of this mounting, or exclude the mounting",
        )  # fmt: skip
    if wrong.leak:
        return _record(
            mounting, files, "leak", "the chamber leaks since the seal was changed",
            f"air escapes through {wrong.leak * 1e6:.0f} mm² before the nozzles", "flow", None,
            f"{airflow}; shut-off reads low and the error grows with pressure",
            "exclude the mounting and repeat it with a sound seal",
        )  # fmt: skip
    if wrong.pressure_factor != 1.0:
        return _record(
            mounting, files, "mmH₂O as Pa", "static pressure in mmH₂O labelled Pa",
            f"the column holds mmH₂O: {1 / MMH2O_OVER_PA:.3f} of the pressure in Pa", "static_pressure",
            wrong.pressure_factor, "shut-off pressure of this sweep",
            f"read the column as mmH₂O (× {MMH2O_OVER_PA})",
        )  # fmt: skip
    if wrong.flow_factor != 1.0:
        return _record(
            mounting, files, "CFM as m³/h", "airflow in CFM labelled m³/h",
            f"the column holds CFM: {1 / CFM_OVER_M3H:.3f} of the airflow in m³/h", "flow",
            wrong.flow_factor, "free airflow of this sweep", f"read the column as CFM (× {CFM_OVER_M3H:.3f})",
        )  # fmt: skip
    share = f"{100 * wrong.slowing:.0f} %"
    return _record(
        mounting, files, "drifting speed", "the speed drifted within the sweep",
        f"the fan lost {share} of its speed from the first to the last point and the logger's long "
        "average did not show it", "speed", None,
        f"departure of this sweep's last points from the fan's curve (speed reads up to {share} high)",
        _EXCLUDE_SWEEP,
    )  # fmt: skip


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
    )
