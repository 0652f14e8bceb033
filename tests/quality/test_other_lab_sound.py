"""The second invented laboratory's recordings: levels, speeds and faults are found there too."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest
from other_lab_sound import GAIN, Heard, write_other_sound

from stillroom.lab.book import Book, open_book, place_all
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder, results
from stillroom.store.lab import Lab

SEED = 77


@dataclass(frozen=True)
class OtherSound:
    """What was written, and what the laboratory knows of it: facts of recordings by the end of their path."""

    heard: tuple[Heard, ...]
    book: Book
    facts: dict[str, dict[str, Any]]
    bodies: dict[str, dict[str, Any]]

    def of(self, one: Heard) -> dict[str, Any]:
        return next(each for file, each in self.facts.items() if file.endswith(one.file))


@pytest.fixture(scope="module")
def other(tmp_path_factory: pytest.TempPathFactory) -> OtherSound:
    base = tmp_path_factory.mktemp("other sound")
    heard = write_other_sound(base / "files", SEED)
    path = base / "lab"
    folder.make(path, template("Other").replace("# trials = 2000", "trials = 500"))
    with Lab(path) as lab:
        bring_in(lab, [base / "files"], {}).refuse_bad()
        book = open_book(lab)
        graph = build_graph(book)
        reduce_lab(lab, graph, workers=1)
        bodies = {}
        for node in graph.sounds:
            result = results.get(lab.database, node.key)
            assert result is not None
            bodies[node.subject] = result.body
    facts = {each["file"]: each for body in bodies.values() for each in body["recordings"]}
    return OtherSound(heard, book, facts, bodies)


def test_all_recordings_came_in(other: OtherSound) -> None:
    whats = [each.recording for each in place_all(other.book) if each.taken.content == "sound recording"]
    assert sorted(whats) == sorted(
        ["dwell"] * 9 + ["background before", "background after", "calibrator before", "calibrator after"] * 2
    )


def test_levels_are_those_of_the_signals(other: OtherSound) -> None:
    for one in other.heard:
        facts = other.of(one)
        if one.fan == "Dulse":  # its calibrators differ: the level lies between what the two of them say
            assert one.level - GAIN - 0.1 <= facts["level"] <= one.level + GAIN + 0.1
            continue
        assert facts["level"] == pytest.approx(one.level, abs=0.1), one.file
        if one.level - 17.0 >= 6.2:
            assert facts["level_corrected"] == pytest.approx(one.fan_level, abs=0.3), one.file
            assert not facts["is_bound"]


def test_speeds_are_heard(other: OtherSound) -> None:
    for one in other.heard:
        found = other.of(one)["speed"]["sound"]
        if found is not None:
            assert found == pytest.approx(one.speed, rel=5e-4), one.file
    assert sum(other.of(one)["speed"]["sound"] is not None for one in other.heard) >= 7


def test_a_tachometer_at_half_the_pulses_stands_against_the_sound(other: OtherSound) -> None:
    one = next(each for each in other.heard if each.fan == "Campion" and "70" in each.file)
    speed = other.of(one)["speed"]
    assert speed["tachometer"] == pytest.approx(0.5 * one.speed, rel=2e-3)
    assert speed["used"] == pytest.approx(one.speed, rel=5e-4)


def test_the_loud_blade_pass_is_prominent(other: OtherSound) -> None:
    one = next(each for each in other.heard if each.fan == "Thrift" and "90" in each.file)
    prominent = [each for each in other.of(one)["tones"] if each["prominent"]]
    assert any(each["frequency"] == pytest.approx(one.passing, abs=2.0) for each in prominent)
    assert any(each["origin"] == "blade pass" for each in prominent)


def test_the_gain_that_was_moved_shows_between_the_calibrators(other: OtherSound) -> None:
    calibration = other.bodies["Dulse/s1/ton"]["calibration"]
    assert abs(calibration["drift"]) == pytest.approx(GAIN, abs=0.03)
    assert abs(other.bodies["Thrift/s1/ton"]["calibration"]["drift"]) < 0.05
