"""Causes in words: no nozzle where none was read, no digit too many, one sentence for samples that were exchanged."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from changing import speed_times
from reviewed import Reviewed

from stillroom.core.deviation import Explained
from stillroom.quality import grouped
from stillroom.quality.explaining import Fault
from stillroom.quality.facts import MountingFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.speeds import mixed_up
from stillroom.quality.telling import say

BORES = {"N12": 0.012, "N40": 0.040}


def fault(kind: str, value: float) -> Fault:
    return Fault(kind, "", Explained(value, 0.001, 10.0, 10), before=1000.0, effect=0.1)


@pytest.mark.parametrize("kind", ["flow", "leak"])
def test_no_nozzle_is_blamed_where_none_was_read(clean: Reviewed, kind: str) -> None:
    value = 0.02 if kind == "leak" else math.log(3.138)
    runs = clean.facts["Sedge"].mountings[0].runs
    metered = [replace(each, nozzles=tuple(() for _ in each.nozzles)) for each in runs]
    assert "nozzle" in say(fault(kind, value), BORES, runs).cause
    for told in (say(fault(kind, value), BORES, metered), say(fault(kind, value), {})):
        assert "nozzle" not in told.cause + told.test + told.common
        assert "flow meter" in told.cause


@pytest.mark.parametrize(
    ("ratio", "words"), [(3.138, "+214 %"), (0.871, "−13 %"), (1.042, "+4.2 %"), (0.958, "−4.2 %")]
)
def test_a_change_is_told_with_the_digits_that_it_has(ratio: float, words: str) -> None:
    cause = say(fault("flow", math.log(ratio)), {}).cause
    assert cause.replace("-", "−").endswith(f"flow reads {words}")


def turning(clean: Reviewed, name: str, sample: str, factor: float) -> MountingFacts:
    one = clean.facts["Sedge"].mountings[0]
    runs = tuple(speed_times(factor)(each) for each in one.runs)
    return replace(one, name=f"Sedge-{sample}-{name}", sample=sample, runs=runs, date=f"2026-03-0{name[1]}")


def test_samples_that_were_exchanged_are_told_in_one_sentence(clean: Reviewed) -> None:
    group = [
        turning(clean, "m1", "s1", 1.0), turning(clean, "m2", "s1", 1.03),
        turning(clean, "m1", "s2", 1.03), turning(clean, "m2", "s2", 1.0),
    ]  # fmt: skip
    (told,) = grouped(mixed_up(group).values())
    assert len(told.members) == 4
    assert told.first.cause.startswith("s1 and s2 look exchanged in m2")
    assert "nothing here decides" in told.first.cause


def test_a_third_mounting_decides_which_were_exchanged(clean: Reviewed) -> None:
    group = [
        turning(clean, "m1", "s1", 1.0), turning(clean, "m2", "s1", 1.03), turning(clean, "m3", "s1", 1.0),
        turning(clean, "m1", "s2", 1.03), turning(clean, "m2", "s2", 1.0), turning(clean, "m3", "s2", 1.03),
    ]  # fmt: skip
    found = mixed_up(group)
    assert set(found) == {"Sedge-s1-m2", "Sedge-s2-m2"}
    assert {each.cause for each in found.values()} == {"s1 and s2 look exchanged in m2"}


def test_one_mounting_under_another_number_is_told_as_before(clean: Reviewed) -> None:
    group = [
        turning(clean, "m1", "s1", 1.0), turning(clean, "m2", "s1", 1.03), turning(clean, "m1", "s2", 1.03),
        turning(clean, "m2", "s2", 1.03),
    ]  # fmt: skip
    causes = [each.cause for each in mixed_up(group).values()]
    assert any("s2 was mounted under the number of s1" in each for each in causes)
    assert not any("exchanged" in each for each in causes)


def test_a_minus_in_a_finding_is_one_and_a_hyphen_stays_one() -> None:
    found = Finding(
        35, "mounting:a", "key", Severity.MARKS, "drifted by -1.0 K (-6.0 %) on heat-1, 5-10 min, 2026-11-26",
        "-2 to 3 K", "rad-27 read -3.4 %",
    )  # fmt: skip
    assert found.found == "drifted by −1.0 K (−6.0 %) on heat-1, 5-10 min, 2026-11-26"
    assert (found.expected, found.cause) == ("−2 to 3 K", "rad-27 read −3.4 %")
