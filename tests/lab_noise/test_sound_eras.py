"""Eras of a quiet room: levels brought over by a difference of known size, or refused with what would help."""

from __future__ import annotations

from pathlib import Path

import pytest
from noise_world import Fan, Sound, limit_of, line, line_of, make_lab, put_sound, state, why

from stillroom.compare.standing import Ranking
from stillroom.lab.field import Asked
from stillroom.lab.ranking import rank_fans
from stillroom.measures import Condition, measure_named
from stillroom.records.acts import Event, Mounting
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

LOUDER = 1.2
"""What the change of the room added to every level [dB]."""

BEFORE, AFTER = "2026-03-02", "2026-03-20"


def heard(level: float, mounting: str, *, after: bool) -> Sound:
    return Sound(line(level + (LOUDER if after else 0.0)), mounting=mounting, calibrator=0.0)


def ranked(lab: Lab, measure: str, **told: float) -> Ranking:
    book, graph = state(lab)
    return rank_fans(lab, book, graph, Asked(measure_named(measure), Condition(**told)), workers=1)  # type: ignore[arg-type]


def lab_of(base: Path, *, linked: bool) -> Lab:
    """Alder heard before the change, Birch after it; Hazel before, and after it where `linked`."""
    hazel = [heard(31.0, "1", after=False)] + ([heard(31.0, "2", after=True)] if linked else [])
    fans = (
        Fan("Alder", (heard(30.0, "1", after=False),)),
        Fan("Birch", (heard(30.5, "1", after=True),)),
        Fan("Hazel", tuple(hazel)),
    )
    lab = make_lab(base, fans)
    _, graph = state(lab)
    room = graph.sounds[0].rig
    late = {"Birch": "1", "Hazel": "2"}
    notes = [
        Note(Mounting.kind, each.mounting, as_json(Mounting(
            mounting=each.mounting, fan=each.fan, sample=each.sample,
            date=AFTER if each.mounting.endswith(late.get(each.fan, "never")) else BEFORE)))
        for each in graph.sounds
    ]  # fmt: skip
    event = Event(time="2026-03-10T08:00", text="absorbers moved", rig=room, changes_results=True)
    lab.write([*notes, Note(Event.kind, event.name, as_json(event))])
    for node in state(lab)[1].sounds:  # a told day moves the key
        at = int(node.recordings[0].subject.rpartition("-")[2].partition(".")[0])
        put_sound(lab, node, next(each for each in fans if each.name == node.fan).sounds[at])
    return lab


def test_levels_of_before_the_change_are_brought_over_in_decibels(tmp_path: Path) -> None:
    with lab_of(tmp_path / "lab", linked=True) as lab:
        found = ranked(lab, "level", speed=25.0)
        alder = line_of(found, "Alder")
        assert alder.value == pytest.approx(30.0 + LOUDER, abs=0.05)
        assert "bridged" in alder.marks
        (note,) = found.bridges
        assert (note.unit, note.change) == ("dB", pytest.approx(LOUDER, abs=0.01))
        at = ranked(lab, "limited-speed", noise=28.0)
        assert line_of(at, "Alder").value * 60 == pytest.approx(limit_of(30.0 + LOUDER, 28.0), rel=0.004)


def test_without_a_sample_in_common_the_level_is_refused_with_what_would_help(tmp_path: Path) -> None:
    with lab_of(tmp_path / "lab", linked=False) as lab:
        assert "no bridge: mount" in why(ranked(lab, "level", speed=25.0), "Alder")
