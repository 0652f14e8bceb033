"""Which runs are one mounting where nobody told: by hand, case by case."""

from __future__ import annotations

import pytest

from stillroom.lab.swaps import Fitted, is_swap, numbered
from stillroom.records.acts import Event

DAY = "2026-05-04"


def runs(*told: tuple[str, str, str], rig: str = "chamber") -> list[Fitted]:
    """(fan, moment, swap) of each run of sample s1 on one rig."""
    return [
        Fitted(at, rig, fan, "s1", moment[:10], moment, swap) for at, (fan, moment, swap) in enumerate(told)
    ]


def names(fitted: list[Fitted], *events: Event) -> list[str]:
    found = numbered(fitted, events)
    return [found[at] for at in range(len(fitted))]


def at(clock: str, day: str = DAY) -> str:
    return f"{day}T{clock}"


def test_runs_of_one_day_with_nothing_in_between_are_one_mounting() -> None:
    fitted = runs(("Sedge", at("09:00"), ""), ("Sedge", at("09:10"), ""), ("Sedge", at("16:00"), ""))
    assert names(fitted) == [f"Sedge-s1-{DAY}"] * 3


def test_another_day_is_another_mounting() -> None:
    fitted = runs(("Sedge", at("09:00"), ""), ("Sedge", at("09:00", "2026-05-05"), ""))
    assert names(fitted) == [f"Sedge-s1-{DAY}", "Sedge-s1-2026-05-05"]


def test_another_fan_in_between_makes_a_new_mounting() -> None:
    fitted = runs(
        ("Sedge", at("09:00"), ""), ("Bracken", at("10:00"), ""), ("Sedge", at("11:00"), ""),
        ("Sedge", at("11:10"), ""),
    )  # fmt: skip
    name = f"Sedge-s1-{DAY}"
    assert names(fitted) == [name, f"Bracken-s1-{DAY}", f"{name}/2", f"{name}/2"]


def test_the_order_in_which_runs_are_listed_says_nothing() -> None:
    fitted = runs(("Sedge", at("11:00"), ""), ("Bracken", at("10:00"), ""), ("Sedge", at("09:00"), ""))
    assert names(fitted)[0] == f"Sedge-s1-{DAY}/2"


def test_files_of_one_moment_are_no_evidence() -> None:
    fitted = runs(*((fan, at("09:00"), "") for fan in ("Sedge", "Bracken", "Sedge", "Bracken", "Sedge")))
    assert len(set(names(fitted))) == 2


def test_of_one_moment_the_fan_that_was_on_the_rig_comes_first() -> None:
    fitted = runs(("Sedge", at("08:00"), ""), ("Bracken", at("09:00"), ""), ("Sedge", at("09:00"), ""))
    assert names(fitted) == [f"Sedge-s1-{DAY}", f"Bracken-s1-{DAY}", f"Sedge-s1-{DAY}"]


def test_another_rig_is_no_swap() -> None:
    fitted = [
        Fitted(0, "chamber", "Sedge", "s1", DAY, at("09:00")),
        Fitted(1, "duct", "Bracken", "s1", DAY, at("09:30")),
        Fitted(2, "chamber", "Sedge", "s1", DAY, at("10:00")),
    ]
    assert names(fitted)[2] == f"Sedge-s1-{DAY}"


@pytest.mark.parametrize(("rig", "second"), [(None, "/2"), ("chamber", "/2"), ("duct", "")])
def test_a_swap_in_the_log_makes_a_new_mounting_on_its_rig(rig: str | None, second: str) -> None:
    fitted = runs(("Sedge", at("09:00"), ""), ("Sedge", at("10:00"), ""), ("Sedge", at("10:30"), ""))
    log = Event(time=f"{at('09:30')}:00+02:00", text="swap", rig=rig)
    name = f"Sedge-s1-{DAY}"
    assert names(fitted, log) == [name, name + second, name + second]


def test_a_new_mounting_that_was_told_lasts_until_the_next() -> None:
    fitted = runs(
        ("Sedge", at("09:00"), ""), ("Sedge", at("09:10"), "a"), ("Sedge", at("09:10"), "a"),
        ("Sedge", at("09:20"), ""), ("Sedge", at("09:30"), "b"),
    )  # fmt: skip
    name = f"Sedge-s1-{DAY}"
    assert names(fitted) == [name, f"{name}/2", f"{name}/2", f"{name}/2", f"{name}/3"]


@pytest.mark.parametrize(
    ("text", "swap"),
    [
        ("swap", True),
        ("Swapped the fan", True),
        ("new mounting", True),
        ("swapfile full", False),
        ("seal", False),
    ],
)
def test_lines_of_the_log_that_are_swaps(text: str, swap: bool) -> None:
    assert is_swap(Event(time=at("09:00"), text=text)) == swap
