"""What is found of whole sessions, from the recordings to the findings: what is wrong is told once, with its cause."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from sound_world import RATE, SPEEDS, Bench, at_level, background, calibrator, noise, turning

from stillroom.lab.blocking import open_blocks, open_blocks_of
from stillroom.lab.book import open_book
from stillroom.lab.findings import findings
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

STATEMENTS = {2, 6, 7, 10, 14, 15, 16, 17, 39, 40}
"""Rules whose marks say what a session lacks or how a fan is: the sessions here are short."""

SECONDS = 10.0
DUTIES = (100, 70, 50)
TOLD: dict[str, object] = {"fan": "Sedge", "sample": "s1", "session": "A", "mounting": "Sedge-1"}
Wave = np.ndarray


def heard(i: int) -> Wave:
    """Dwell i of the usual session, with the room's sound."""
    return turning(SPEEDS[i], SECONDS, i) + background(16.0, SECONDS, seed=50 + i)


@contextmanager
def looked_at(
    base: Path,
    waves: dict[str, Wave] | None = None,
    told: dict[str, dict[str, object]] | None = None,
    cut: str = "",
) -> Iterator[tuple[Lab, Graph, list[Finding]]]:
    """A session with some recordings, or what is told of them, changed; and its findings but for statements."""
    bench, waves, told = Bench(base), waves or {}, told or {}
    usual: list[tuple[str, Wave, dict[str, object]]] = [
        ("cal-before", calibrator(), {"recording": "calibrator before", "session": "A"}),
        ("room-before", background(16.0, SECONDS, seed=98), {"recording": "background before", "session": "A"}),
        *(
            (f"dwell-{i}", heard(i), {"recording": "dwell", **TOLD, "duty": DUTIES[i],
                                      "tachometer": round(SPEEDS[i] * 60)})
            for i in range(3)
        ),
        ("room-after", background(16.0, SECONDS, seed=97), {"recording": "background after", "session": "A"}),
        ("cal-after", calibrator(off=0.1), {"recording": "calibrator after", "session": "A"}),
    ]  # fmt: skip
    for name, wave, said in usual:
        bench.record(f"a/{name}.wav", waves.get(name, wave), **{**said, **told.get(name, {})})
    if cut:
        path = base / "bench" / "a" / f"{cut}.wav"
        whole = path.read_bytes()
        path.write_bytes(whole[: len(whole) * 2 // 3])
    bench.finish()
    with bench.lab() as lab:
        graph = build_graph(open_book(lab))
        reduce_lab(lab, graph, workers=1)
        every = findings(lab, open_book(lab), graph)
        yield lab, graph, [each for each in every if each.blocks or each.rule not in STATEMENTS]


def told_of(base: Path, **changed: object) -> tuple[int, str, str, bool]:
    """Rule, place, cause and whether it blocks of the one finding that there is."""
    with looked_at(base, **changed) as (_, _, found):  # type: ignore[arg-type]
        assert len(found) == 1, [(each.rule, each.found, each.cause) for each in found]
        one = found[0]
        return one.rule, one.place.rpartition("/")[2], one.cause, one.blocks


def test_nothing_is_found_where_nothing_is_wrong(tmp_path: Path) -> None:
    with looked_at(tmp_path) as (_, _, found):
        assert [(each.rule, each.found) for each in found] == []


def test_a_recording_at_another_rate_than_its_file_says(tmp_path: Path) -> None:
    played = np.interp(np.arange(round(SECONDS * 44_100)) * RATE / 44_100, np.arange(len(heard(1))), heard(1))
    rule, place, cause, blocks = told_of(tmp_path, waves={"dwell-1": played})
    assert (rule, place, blocks) == (20, "dwell-1.wav", True)
    assert "recorded at 44,100 Hz, and the file says 48,000 Hz" in cause


def test_the_same_the_other_way_round(tmp_path: Path) -> None:
    places = np.arange(round(SECONDS * RATE * 48.0 / 44.1)) * 44.1 / 48.0
    played = np.interp(places, np.arange(len(heard(1))), heard(1))
    rule, place, cause, blocks = told_of(tmp_path, waves={"dwell-1": played})
    assert (rule, place, blocks) == (20, "dwell-1.wav", True)
    assert "recorded at 48,000 Hz, and the file says 44,100 Hz" in cause


def test_wrong_pulses_in_all_dwells_are_one_finding(tmp_path: Path) -> None:
    told = {f"dwell-{i}": {"tachometer": round(SPEEDS[i] * 120)} for i in range(3)}
    rule, _, cause, blocks = told_of(tmp_path, told=told)
    assert (rule, blocks) == (20, True)
    assert "reads twice what it is; the fan gives 2, the tachometer was set to 1" in cause


def test_a_gain_that_was_moved_and_a_gain_switch(tmp_path: Path) -> None:
    rule, place, cause, _ = told_of(tmp_path / "moved", waves={"cal-after": calibrator(off=0.9)})
    assert (rule, place) == (5, "cal-after.wav")
    assert "+0.9 dB" in cause
    rule, place, cause, _ = told_of(tmp_path / "switched", waves={"cal-after": calibrator(off=10.0)})
    assert (rule, place) == (5, "cal-after.wav")
    assert "another gain" in cause


def test_a_recording_that_is_no_calibrator(tmp_path: Path) -> None:
    rule, place, _, blocks = told_of(tmp_path, waves={"cal-after": background(60.0, 6.0)})
    assert (rule, place, blocks) == (5, "cal-after.wav", True)


def test_a_background_that_rose(tmp_path: Path) -> None:
    rule, place, cause, blocks = told_of(tmp_path, waves={"room-after": background(18.5, SECONDS, seed=97)})
    assert (rule, place, blocks) == (9, "room-after.wav", True)
    assert "rose" in cause


def test_a_silent_recording_and_another_channel(tmp_path: Path) -> None:
    rule, place, cause, _ = told_of(tmp_path / "silent", waves={"dwell-2": np.zeros(len(heard(2)))})
    assert (rule, place) == (11, "dwell-2.wav")
    assert "empty channel" in cause
    faint = heard(2) * 10 ** (-20 / 20)
    rule, place, cause, _ = told_of(tmp_path / "faint", waves={"dwell-2": faint})
    assert (rule, place) == (6, "dwell-2.wav")
    assert "another channel" in cause
    other = at_level(noise(SECONDS, 7), 50.0)
    rule, place, cause, _ = told_of(tmp_path / "other", waves={"dwell-2": other})
    assert (rule, place) == (12, "dwell-2.wav")


def test_a_clipped_recording(tmp_path: Path) -> None:
    knocked = heard(0).copy()
    knocked[RATE * 4 : RATE * 4 + 60] = 1.0
    rule, place, cause, blocks = told_of(tmp_path, waves={"dwell-0": knocked})
    assert (rule, place, blocks) == (11, "dwell-0.wav", True)
    assert cause.startswith("clipped")


def test_open_findings_of_sound_block_numbers_that_rest_on_sound_only(tmp_path: Path) -> None:
    with looked_at(tmp_path, waves={"cal-after": calibrator(off=0.9)}) as (lab, graph, found):
        book = open_book(lab)
        assert open_blocks(found, book.decisions).keys() == {"sound of Sedge-1"}
        assert open_blocks_of(found, book, graph, "", ["Sedge"], rests_on={Purpose.AIRFLOW}) == {}
        both = open_blocks_of(found, book, graph, "", ["Sedge"], rests_on={Purpose.AIRFLOW, Purpose.SOUND})
        assert {fan: len(each) for fan, each in both.items()} == {"Sedge": 1}


def test_a_recording_that_is_excluded_is_told_no_more(tmp_path: Path) -> None:
    with looked_at(tmp_path, waves={"cal-after": calibrator(off=0.9)}) as (lab, _, found):
        (one,) = found
        decision = Decision(finding=one.id, rule=str(one.rule), subject=one.subject, key=one.key, action="exclude",
                            reason="the gain was moved", by="AB", time="2026-03-05T10:00:00")  # fmt: skip
        lab.write([Note(Decision.kind, decision.name, as_json(decision))])
        graph = build_graph(open_book(lab))
        assert (one.subject, one.key) in graph.excluded
        reduce_lab(lab, graph, workers=1)
        left = [each for each in findings(lab, open_book(lab), graph) if each.rule == 5]
        assert [(each.blocks, "not after" in each.found) for each in left] == [(False, True)]


def test_limits_in_lab_toml_hold_for_sound(tmp_path: Path) -> None:
    with looked_at(tmp_path, waves={"cal-after": calibrator(off=0.9)}) as (lab, graph, found):
        assert [each.rule for each in found] == [5]
        path = lab.path / "lab.toml"
    path.write_text(
        path.read_text(encoding="utf-8") + "\n[limits]\ncalibrator_drift = 1.5\n", encoding="utf-8"
    )
    with Lab(path.parent) as lab:
        found = findings(lab, open_book(lab), graph)
        assert [each for each in found if each.blocks] == []


def test_a_cut_recording_never_comes_in_and_what_it_leaves_is_told(tmp_path: Path) -> None:
    with looked_at(tmp_path, cut="room-after") as (_, _, found):
        assert [(each.rule, each.blocks, "not after" in each.found) for each in found] == [(9, False, True)]
