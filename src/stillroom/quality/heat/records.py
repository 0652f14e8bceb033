"""Rules 1 and 43 for heat: samples without a record, and their run-in."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import WarmFan
from stillroom.quality.saying import about_fan
from stillroom.records.keys import key_of


def records(fan: WarmFan) -> Iterator[Finding]:
    """What is not written down of the samples that only the heat rig has seen."""
    for sample in fan.unregistered:
        yield about_fan(
            1, fan.name, key_of("sample", fan.name, sample), f"sample {sample} of {fan.name} has no record",
            "where and when bought, lot, condition", subject=f"sample:{fan.name}/{sample}",
            test="write a row in the table of samples",
        )  # fmt: skip
    least = fan.limits.run_in * 3600.0
    for sample, hours in sorted(fan.hours.items()):
        if hours < least:
            yield about_fan(
                43, fan.name, key_of("run-in", fan.name, sample, hours),
                f"sample {sample} of {fan.name} had run for {hours / 3600:g} h", f"{least / 3600:g} h at least",
                subject=f"sample:{fan.name}/{sample}", cause="a new bearing's grease is still spreading",
                test="let it run for an hour at full speed before it is mounted", common="run-in too short",
            )  # fmt: skip
