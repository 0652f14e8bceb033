"""Rules 43 and 51 for tests of the control: warm-up before a response, attempts enough, from rest, cold."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.core.control.control_mounting import Drive, StartCount
from stillroom.core.control.starts import FROM_REST
from stillroom.quality.control.facts import ControlledFan, ControlledMounting
from stillroom.quality.control.saying import MARKS, about_control, about_table, setting_words
from stillroom.quality.finding import Finding
from stillroom.quality.saying import listed


def attempts(fan: ControlledFan) -> Iterator[Finding]:
    """Rule 51: too few attempts at the setting at which it is said to start, not from rest, or not cold."""
    for mounting in fan.mountings:
        drives = mounting.control.drives.values() if mounting.control else ()
        for drive in drives:
            count = _said(drive)
            if count is not None and (wrong := _wrong(count, fan.limits.start_attempts)):
                yield _about(mounting, drive, count, wrong, fan)


def _said(drive: Drive) -> StartCount | None:
    """The attempts at the setting at which it is said to start, else at the highest that was tried."""
    if not drive.starts:
        return None
    high = drive.start.high if drive.start else None
    return next((each for each in drive.starts if each.setting == high), drive.starts[-1])


def _wrong(count: StartCount, fewest: float) -> list[str]:
    wrong = []
    if count.attempts < fewest:
        wrong.append(
            f"{count.started} of {count.attempts} attempts, which prove at least {100 * count.bound:.0f} %"
        )
    if count.from_rest is False:
        wrong.append(f"less than {FROM_REST:g} s at rest before some")
    elif count.from_rest is None:
        wrong.append("not told whether from rest")
    if count.cold is False:
        wrong.append("not from cold")
    elif count.cold is None:
        wrong.append("not told whether from cold")
    return wrong


def _about(
    mounting: ControlledMounting, drive: Drive, count: StartCount, wrong: list[str], fan: ControlledFan
) -> Finding:
    at = setting_words(drive.kind, count.setting)
    return about_control(
        51, mounting, f"starts of {mounting.name} at {at}: {listed(wrong)}",
        f"{fan.limits.start_attempts:g} attempts or more at a setting, each from rest and from cold",
        cause="the count proves less than it seems: 10 of 10 prove only that 74 % of attempts start",
        test="let it stand and cool between attempts, turn the rotor to another rest position, try ten times",
        common="start test with few attempts, or not from rest and cold", what=at,
    )  # fmt: skip


def warm_up(fan: ControlledFan) -> Iterator[Finding]:
    """Rule 43: a response that was taken too soon after the fan was switched on, where that is written down."""
    for mounting in fan.mountings:
        for table in mounting.tables:
            if table.table != "steps" or table.warm_up is None or table.warm_up >= 60.0 * fan.limits.warm_up:
                continue
            yield about_table(
                43, table, mounting,
                f"response of {mounting.name} taken {table.warm_up / 60:.1f} min after switching on",
                f"{fan.limits.warm_up:g} min", severity=MARKS, cause="bearing and electronics were still cold",
                test="run it at full speed, then take the response again", common="warm-up too short",
            )  # fmt: skip
