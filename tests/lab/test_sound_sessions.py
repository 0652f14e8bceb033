"""Which calibrators and backgrounds belong to which recording."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.book import Placed
from stillroom.lab.sound.nodes import RecordingNode
from stillroom.lab.sound.placing import SoundRun
from stillroom.lab.sound.sessions import Sessions
from stillroom.readers.words.recordings import Recorded
from stillroom.records.acts import Taken

AUDIO = {"audio": 1, "rate": 48000, "channels": 1, "subtype": "PCM_24", "frames": 480000, "channel": 1}
HERE = Geometry(distance=0.5)


def node(
    name: str,
    what: Recorded,
    clock: str = "",
    *,
    session: str = "",
    mounting: str = "",
    day: str = "2026-03-02",
) -> RecordingNode:
    measured = f"{day}T{clock}" if clock else day
    taken = Taken(
        sha256=name.ljust(64, "0"), file=f"{name}.wav", place=f"originals/{name}.wav", date=day, layout=AUDIO,
        reader="audio 1", content="sound recording", quantities=("sound_pressure",), points=480000,
        measured=measured, arrived="2026-03-09T09:00:00",
    )  # fmt: skip
    placed = Placed(
        taken=taken, fan="Sedge" if mounting else "", sample="s1" if mounting else "", mounting=mounting, obstacle="",
        rig="quiet", setting=None, setting_word="", date=day, registered=True, told_date=day, recording=what.value,
    )  # fmt: skip
    run = SoundRun(
        placed=placed, recorded=what, channel=1, microphone="mic-1", calibrator="", calibrator_level=94.0,
        geometry=HERE, session=session, moment=placed.moment, timed=bool(clock),
    )  # fmt: skip
    return RecordingNode(name, run)


def names(of: RecordingNode, others: list[RecordingNode]) -> tuple[list[str], list[str]]:
    found = Sessions(others).beside(of)
    return [each.key for each in found.before], [each.key for each in found.after]


def moved(of: RecordingNode, **changes: object) -> RecordingNode:
    return replace(of, run=replace(of.run, **changes))  # type: ignore[arg-type]


BEFORE, AFTER, BARE = Recorded.CALIBRATOR_BEFORE, Recorded.CALIBRATOR_AFTER, Recorded.CALIBRATOR


def test_a_told_session_comes_before_all_else() -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", session="A", mounting="m")
    others = [
        node("a1", BEFORE, "08:00:00", session="A"),
        node("a2", AFTER, "12:00:00", session="A"),
        node("b1", BEFORE, "09:59:00", session="B"),
        node("m1", BARE, "09:58:00", mounting="m"),
    ]
    assert names(dwell, others) == (["a1"], ["a2"])


def test_what_is_told_to_belong_to_another_session_never_stands_in() -> None:
    dwell = node("d", Recorded.DWELL, session="A")
    others = [node("b1", BEFORE, session="B"), node("day", BEFORE)]
    assert names(dwell, others) == (["day"], [])
    assert names(dwell, others[:1]) == ([], [])
    assert names(node("e", Recorded.DWELL), others[:1]) == (["b1"], [])


def test_then_what_names_the_mounting() -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", mounting="m")
    others = [node("m1", BARE, "09:00:00", mounting="m"), node("m2", BARE, "11:00:00", mounting="m"),
              node("day", BARE, "09:59:00")]  # fmt: skip
    assert names(dwell, others) == (["m1"], ["m2"])


def test_of_a_day_the_last_before_and_the_first_after() -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", mounting="m")
    others = [node(f"c{hour}", BARE, f"{hour:02d}:00:00") for hour in (7, 9, 11, 13)]
    assert names(dwell, others) == (["c9"], ["c11"])


def test_words_hold_against_the_clock() -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", mounting="m")
    others = [node("c9", AFTER, "09:00:00"), node("c8", BEFORE, "08:00:00"), node("c11", BEFORE, "11:00:00"),
              node("c12", AFTER, "12:00:00")]  # fmt: skip
    assert names(dwell, others) == (["c8"], ["c12"])


def test_without_times_of_day_all_of_the_day_by_their_words() -> None:
    dwell = node("d", Recorded.DWELL, mounting="m")
    others = [node("x", BARE), node("y", AFTER), node("z", BEFORE)]
    assert names(dwell, others) == (["x", "z"], ["y"])


@pytest.mark.parametrize("change", [{"microphone": "mic-2"}])
def test_another_microphone_is_another_chain(change: dict[str, object]) -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", mounting="m")
    other = node("c", BARE, "09:00:00")
    assert names(dwell, [other]) == (["c"], [])
    assert names(dwell, [moved(other, **change)]) == ([], [])


def test_another_day_or_place_doesn_t_count() -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", mounting="m")
    assert names(dwell, [node("c", BARE, "09:00:00", day="2026-03-03")]) == ([], [])
    room = node("r", Recorded.BACKGROUND, "09:00:00")
    assert names(dwell, [room]) == (["r"], [])
    assert names(dwell, [moved(room, geometry=Geometry(distance=1.0))]) == ([], [])
    assert names(dwell, [moved(node("c", BARE, "09:00:00"), geometry=Geometry(distance=1.0))]) == (["c"], [])


def test_the_other_channel_of_a_file_is_another_chain_unless_one_has_but_one() -> None:
    dwell = moved(node("d", Recorded.DWELL, "10:00:00", mounting="m"), channel=2)
    calibrator = node("c", BARE, "09:00:00")
    assert names(dwell, [calibrator]) == (["c"], [])  # a file of one channel
    placed = replace(
        calibrator.run.placed, taken=replace(calibrator.run.placed.taken, layout=AUDIO | {"channels": 2})
    )
    of_two = replace(dwell.run.placed, taken=replace(dwell.run.placed.taken, layout=AUDIO | {"channels": 2}))
    assert names(moved(dwell, placed=of_two), [moved(calibrator, placed=placed)]) == ([], [])


def test_a_background_with_another_fan_mounted_is_only_a_last_resort() -> None:
    dwell = node("d", Recorded.DWELL, "10:00:00", mounting="m")
    with_other = node("o", Recorded.BACKGROUND, "09:30:00", mounting="other")
    assert names(dwell, [with_other, node("r", Recorded.BACKGROUND, "08:00:00")]) == (["r"], [])
    assert names(dwell, [with_other]) == (["o"], [])
