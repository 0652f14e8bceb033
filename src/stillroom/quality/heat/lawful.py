"""Rule 29 for heat: runs that lie off the law of resistance against airflow of their rig."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import LawFacts
from stillroom.quality.heat.saying import MARKS
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits

SINCE = "from "

_TESTS = {
    "this heat run": "run this fan once more on the heat rig",
    "the heat rig": "run the reference fan on the heat rig; read the coolant's flow and the heater's power",
    "the airflow of this fan": "sweep this fan once more on the airflow rig, through the radiator",
    "heat or airflow": "sweep this fan once more through the radiator, then run it once more on the heat rig",
}


def lawful(rig: str, facts: Sequence[LawFacts], limits: Limits) -> Iterator[Finding]:
    """What lies off, and what it speaks against."""
    for each in facts:
        if abs(each.shift) <= limits.heat_law:
            continue
        fans = tuple(sorted(set(each.mountings.values())))
        words = "warmer" if each.shift > 0.0 else "cooler"
        since = each.name.startswith(SINCE)
        who = f"all fans {each.name} on" if since else each.name
        yield Finding(
            29, f"rig:{rig}", key_of("heat law", rig, each.name, sorted(each.mountings), round(each.shift, 4)), MARKS,
            f"{who}: {abs(each.delta):.2f} K {words} on {rig or 'the heat rig'} than their airflow says"
            if since or len(each.mountings) > 1
            else f"{who}: {abs(each.delta):.2f} K {words} on {rig or 'the heat rig'} than its airflow says",
            f"within {100 * limits.heat_law:g} % (z {each.z:+.1f}); it speaks against {each.against}",
            _cause(each, since=since), _TESTS[each.against], "", fans,
            common=f"all fans off by one step {each.name}" if since else f"off the law: {each.against}",
        )  # fmt: skip


def _cause(facts: LawFacts, *, since: bool) -> str:
    if since and facts.event:
        return f"the event in the log: “{facts.event}”"
    if since:
        return (
            "the coolant's flow changed"
            if facts.flow_fell
            else "the coolant's flow, or a change nobody wrote down"
        )
    return {
        "this heat run": "the run was cut before it was steady, or the fan sat otherwise on the radiator",
        "the heat rig": "this fan doesn't seal on the radiator, or blows so unevenly that it counts",
        "the airflow of this fan": "its airflow sweeps contradict each other",
        "heat or airflow": "one of the two rigs reads this fan otherwise",
    }[facts.against]
