"""Each rule of sound fires on its case, and not just beyond it on the other side.

The thresholds are those of the laboratory's list of rules (common practice, and as each rule names its source).
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from heard_facts import (
    CALIBRATORS,
    DWELLS,
    PLACE,
    ROOMS,
    SCALE,
    SPEEDS,
    beside,
    dwell,
    found,
    level_at,
    mounting,
    only,
    sound,
    with_dwell,
)

from stillroom.core.sound.sound_mounting import Geometry
from stillroom.quality import Finding
from stillroom.quality.sound import SpeedFacts, ToneFacts, told_once
from stillroom.records.limits import Limits


def test_a_session_in_which_nothing_is_wrong_gives_nothing() -> None:
    assert found(mounting()) == []


# --- 5: the calibrator


@pytest.mark.parametrize(("drift", "blocks"), [(0.49, False), (-0.49, False), (0.51, True), (-0.9, True)])
def test_calibrators_that_differ_block(drift: float, blocks: bool) -> None:
    findings = found(mounting(scales=(replace(SCALE, drift=drift),)))
    assert bool(findings) == blocks
    if blocks:
        one = only(findings)
        assert (one.rule, one.subject, one.key, one.blocks) == (5, "run:cal-after", "cal-after-key", True)
        assert "gain was moved" in one.cause
        assert one.mountings == ("sound of Rush-q1",)


def test_a_shared_calibrator_is_told_once_for_all_fans() -> None:
    drifted = (replace(SCALE, drift=1.0),)
    both = found(mounting(scales=drifted), mounting("Rush-q2", scales=drifted))
    one = only(told_once(both))
    assert one.mountings == ("sound of Rush-q1", "sound of Rush-q2")


def test_no_calibrator_marks_and_one_side_marks() -> None:
    bare = replace(SCALE, before=None, after=None, drift=None, runs_before=(), runs_after=())
    one = only(found(mounting(scales=(bare,), calibrators=())))
    assert (one.rule, one.blocks) == (5, False)
    half = replace(SCALE, after=None, drift=None, runs_after=())
    one = only(found(mounting(scales=(half,), calibrators=CALIBRATORS[:1])))
    assert (one.rule, one.blocks, one.subject) == (5, False, "run:cal-before")


def test_what_is_no_calibrator_blocks() -> None:
    wrong = beside(
        "cal-after", "calibrator after", failed="no calibrator: found its strongest tone at 1088 Hz"
    )
    half = replace(SCALE, after=None, drift=None, runs_after=("cal-after",))
    one = only(found(mounting(scales=(half,), calibrators=(CALIBRATORS[0], wrong))))
    assert (one.rule, one.blocks, one.subject) == (5, True, "run:cal-after")


def test_a_clipped_calibrator_may_be_floats_scaled_as_integers() -> None:
    wrong = beside("cal-after", "calibrator after", failed="9 samples at full scale", clipped=9)
    half = replace(SCALE, after=None, drift=None, runs_after=("cal-after",))
    one = only(found(mounting(scales=(half,), calibrators=(CALIBRATORS[0], wrong))))
    assert (one.rule, one.blocks) == (5, True)
    assert "floats scaled as integers" in one.cause


def test_calibrators_that_contradict_each_other_are_one_finding_for_all_recordings() -> None:
    why = "recording of a calibrator in cal-after.wav: found 10.0 dB above the first: at another gain"
    lost = tuple(replace(each, failed=why, level=None, corrected=None) for each in DWELLS)
    one = only(found(mounting(recordings=lost, scales=(), sound=None, failed=why)))
    assert (one.rule, one.blocks, one.subject) == (5, True, "run:cal-after")


# --- 6 to 9: background and self-noise


@pytest.mark.parametrize(("delta", "words"), [(5.9, "upper bounds"), (6.1, "less than 10"), (9.9, "less than 10"),
                                              (10.1, "")])  # fmt: skip
def test_a_fan_near_its_background_is_marked(delta: float, words: str) -> None:
    findings = found(with_dwell(delta=delta, is_bound=delta < 6.0))
    assert bool(findings) == bool(words)
    if words:
        one = only(findings)
        assert (one.rule, one.blocks) == (6, False)
        assert words in one.found


def test_a_background_louder_than_the_fan_blocks_and_another_channel_is_named() -> None:
    for level, words in ((13.0, "louder than the fan"), (2.0, "another channel")):
        gone = with_dwell(failed="no louder than the background", level=level, corrected=None, delta=None)
        one = only(found(gone))
        assert (one.rule, one.blocks, one.subject, one.mountings) == (6, True, "run:run1", ())
        assert words in one.cause


def test_a_fan_no_louder_than_its_background_is_an_upper_bound_and_a_mark() -> None:
    one = only(found(with_dwell(level=13.0, corrected=13.0, delta=-1.0, is_bound=True)))
    assert (one.rule, one.blocks, one.subject) == (6, False, "run:run1")
    assert "louder than the fan: an upper bound at most" in one.cause
    sheet = with_dwell(level=13.0, corrected=13.0, delta=-1.0, is_bound=True)
    one = only(found(replace(sheet, backgrounds=(), rooms={})))  # the background of its own row
    assert (one.rule, one.blocks, one.subject) == (6, False, "run:run1")


def test_a_silent_dwell_is_silent_and_nothing_else() -> None:
    for silent in (True, False):  # one value throughout is no silence by its samples, but by its level
        gone = with_dwell(failed="silence", level=-82.0, corrected=None, delta=None, silent=silent)
        one = only(found(gone))
        assert (one.rule, one.mountings) == (11, ())
        assert "is silent" in one.found


def test_no_background_is_a_mark() -> None:
    bare = tuple(replace(each, before=None, after=None, delta=None) for each in DWELLS)
    one = only(found(mounting(recordings=bare, backgrounds=(), rooms={})))
    assert (one.rule, one.blocks) == (6, False)


def test_bands_near_the_background_are_one_finding() -> None:
    bands = tuple(20.0 for _ in range(31))
    few = with_dwell(bands=bands, bands_bound=tuple(i < 10 for i in range(31)))
    many = with_dwell(bands=bands, bands_bound=tuple(i < 20 for i in range(31)))
    assert found(few) == []  # below 200 Hz the A-weighted bands hold next to nothing
    one = only(found(many))
    assert (one.rule, one.blocks) == (7, False)
    assert one.found.startswith("20 one-third octaves")


def test_a_level_near_the_microphones_own_noise_is_marked() -> None:
    one = only(found(with_dwell(is_bound=True, delta=16.0)))
    assert (one.rule, one.blocks) == (8, False)


@pytest.mark.parametrize(
    ("rise", "delta", "blocks"),
    [(1.9, 16.0, False), (2.1, 16.0, True), (0.9, 10.1, False), (1.1, 10.1, False), (1.1, 9.9, True),
     (-2.1, 16.0, True)],
)  # fmt: skip
def test_backgrounds_that_differ_block(rise: float, delta: float, blocks: bool) -> None:
    runs = tuple(replace(each, delta=delta, after=14.0 + rise) for each in DWELLS)
    findings = [each for each in found(mounting(recordings=runs)) if each.rule != 6]
    assert bool(findings) == blocks
    if blocks:
        one = only(findings)
        assert (one.rule, one.subject, one.key) == (9, "run:bg-after", "bg-after-key")
        assert ("rose" if rise > 0 else "fell") in one.cause


def test_a_background_on_one_side_is_marked() -> None:
    runs = tuple(replace(each, after=None) for each in DWELLS)
    rooms = {each.run: (("bg-before",), ()) for each in DWELLS}
    one = only(found(mounting(recordings=runs, rooms=rooms, backgrounds=ROOMS[:1])))
    assert (one.rule, one.blocks, one.subject) == (9, False, "run:bg-before")


# --- 10, 11: single recordings


@pytest.mark.parametrize(
    ("seconds", "severity"), [(30.0, ""), (29.6, ""), (29.0, "W"), (8.0, "W"), (7.0, "B")]
)
def test_the_averaging_time(seconds: float, severity: str) -> None:
    findings = found(with_dwell(duration=seconds))
    assert [each.severity.value for each in findings] == list(severity)
    assert all(each.rule == 10 for each in findings)


def test_short_dwells_of_a_mounting_are_one_finding() -> None:
    one = only(found(mounting(recordings=tuple(replace(each, duration=12.0) for each in DWELLS))))
    assert (one.rule, one.subject) == (10, "mounting:Rush-q1")


def test_half_a_second_is_not_said_to_be_none() -> None:
    one = only(found(with_dwell(duration=0.5)))
    assert (one.rule, one.found) == (10, "51 % of Rush-q1: averaged over 0.5 s")


def test_a_level_that_no_fan_has_names_floats_scaled_as_integers() -> None:
    loud = {"level": 186.0, "corrected": 186.0, "delta": 172.0, "clipped": 900_000}
    several = found(mounting(recordings=tuple(replace(each, **loud) for each in DWELLS)))  # type: ignore[arg-type]
    eleven = [each for each in several if each.rule == 11]
    assert len(eleven) == len(DWELLS)
    assert all(each.blocks and "floats scaled as integers" in each.cause for each in eleven)
    assert found(with_dwell(level=139.0)) == []


@pytest.mark.parametrize(("share", "blocks"), [(0.19, False), (0.21, True)])
def test_transients_are_told_and_many_block(share: float, blocks: bool) -> None:
    one = only(found(with_dwell(rejected=share, transients=((10.0, 30.0 * share, 12.0),), burst=12.0)))
    assert (one.rule, one.blocks) == (11, blocks)


def test_a_lorry_is_told_from_somebody_in_the_corridor() -> None:
    causes = [
        only(found(with_dwell(rejected=0.1, transients=((10.0, length, 9.0),), burst_rumble=rumble))).cause
        for length, rumble in ((9.0, 25.0), (9.0, 4.0), (1.0, 25.0))
    ]
    assert [each.split(",")[0] for each in causes] == [
        "a lorry or an aeroplane that passed",
        "somebody in the corridor",
        "somebody in the corridor: a voice",
    ]


@pytest.mark.parametrize(("burst", "marked"), [(2.9, False), (3.1, True)])
def test_knocks_shorter_than_a_second_mark(burst: float, marked: bool) -> None:
    findings = found(with_dwell(burst=burst))
    assert [(each.rule, each.blocks) for each in findings] == [(11, False)] * marked


def test_clipping_and_gaps_block_as_one() -> None:
    one = only(
        found(with_dwell(clipped=12, dropouts=((3.0, 0.1),), rejected=0.03, transients=((3.0, 1.0, 20.0),)))
    )
    assert (one.rule, one.blocks, one.subject) == (11, True, "run:run1")
    assert "clipped" in one.cause


def test_recordings_that_cannot_be_used_say_so_and_block_nothing_else() -> None:
    cases = {
        10: {"failed": "cut short", "was_read": False, "level": None},
        11: {"failed": "silence", "silent": True, "level": None},
        20: {"failed": "neither heard nor read", "speed": None},
    }
    for rule, changed in cases.items():
        if rule != 20:
            changed["corrected"] = None
        one = only(found(with_dwell(**changed)))
        assert (one.rule, one.subject, one.mountings) == (rule, "run:run1", ())


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"what": "ramp up", "failed": "a ramp told to go up, whose level falls"}, 11),  # its level was read
        ({"corrected": None, "failed": "two bands at 500 Hz"}, 11),
        ({"is_recording": False, "was_read": False, "level": None, "corrected": None,
          "failed": "two bands at 500 Hz"}, 10),
    ],
)  # fmt: skip
def test_whatever_failed_in_a_mounting_that_is_used_is_a_mark_with_its_words(
    changed: dict[str, object], rule: int
) -> None:
    one = only(found(with_dwell(**changed)))
    assert (one.rule, one.blocks, one.subject) == (rule, False, "run:run1")
    assert str(changed["failed"]) in one.found


# --- 12 to 15: places and tones


@pytest.mark.parametrize(("distance", "angle", "blocks"), [(0.52, 45.0, False), (0.525, 45.0, True),
                                                           (0.5, 49.9, False), (0.5, 50.1, True)])  # fmt: skip
def test_a_microphone_that_was_moved_blocks(distance: float, angle: float, blocks: bool) -> None:
    findings = found(mounting(geometry=replace(PLACE, distance=distance, angle=math.radians(angle))))
    assert [(each.rule, each.blocks) for each in findings] == [(12, True)] * blocks


def test_a_moved_microphone_without_its_own_background_is_one_finding() -> None:
    bare = tuple(replace(each, before=None, after=None, delta=None) for each in DWELLS)
    moved = mounting(geometry=replace(PLACE, distance=0.4), recordings=bare, backgrounds=(), rooms={})
    assert only(found(moved)).rule == 12


def test_an_untold_distance_is_a_mark() -> None:
    one = only(found(mounting(geometry=Geometry(), method=Geometry())))
    assert (one.rule, one.blocks, one.subject) == (12, False, "fan:Rush")


def test_another_channel_is_known_by_its_level_and_missing_tones() -> None:
    one = only(found(with_dwell(corrected=level_at(SPEEDS[1]) - 12.0, tones=())))
    assert (one.rule, one.blocks, one.subject) == (12, True, "run:run1")
    assert "another channel" in one.cause
    assert found(with_dwell(corrected=level_at(SPEEDS[1]) - 5.0, tones=())) == []


def test_a_note_of_a_person_beside_the_meter_is_a_mark() -> None:
    one = only(found(with_dwell(note="meter read by hand")))
    assert (one.rule, one.blocks) == (13, False)
    assert found(with_dwell(note="second-hand radiator beside the fan")) == []


def test_tones_below_the_rooms_frequency_and_at_one_position() -> None:
    low = with_dwell(tones=(ToneFacts(95.0, True, True),))
    high = with_dwell(tones=(ToneFacts(105.0, True, True),))
    assert [each.rule for each in found(low)] == [14]
    assert [each.rule for each in found(high)] == [15]
    every = mounting(
        recordings=tuple(replace(each, tones=(ToneFacts(300.0, True, True),)) for each in DWELLS)
    )
    assert only(found(every)).subject == "fan:Rush"  # once a fan, not once a dwell


# --- 16 to 18: noise limits


def test_dwells_around_a_limit() -> None:
    def of(speeds: tuple[float, ...], ramp: tuple[float, ...] = ()) -> list[int]:
        both = [mounting(name, sound=sound(speeds, ramp=ramp)) for name in ("Rush-q1", "Rush-q2")]
        return [each.rule for each in found(*both)]

    # 53 lg(n₂/n₁) dB: 1,010 and 1,055 rpm 1.0 dB; 1,000 and 1,055 55 rpm; 1,000 and 1,080 1.77 dB; 950 and 1,080 3 dB
    assert of((1010.0, 1055.0)) == []
    assert of((1000.0, 1055.0)) == [16]
    assert of((1000.0, 1080.0)) == [16]
    assert of((950.0, 1080.0)) == [17]
    assert of((950.0, 1080.0), ramp=(1000.0, 1030.0, 1060.0)) == []


def test_one_mounting_that_brackets_a_limit_is_enough() -> None:
    assert found(mounting(sound=sound((950.0, 1080.0))), mounting("Rush-q2")) == []


def test_free_air_noise_behind_an_obstacle_is_a_mark_of_the_fan() -> None:
    one = only(found(mounting(), free_air=("for airflow noise 30.0, obstacle rad27",)))
    assert (one.rule, one.blocks, one.subject) == (18, False, "fan:Rush")


# --- 19, 20: speeds


def spoken(tachometer: float, heard: float = 1020.0, **more: object) -> SpeedFacts:
    """Speeds in rpm."""
    made = SpeedFacts(heard / 60, heard / 60, 0.002, 0.0002, 7, True, tachometer / 60)
    return replace(made, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(("ratio", "words"), [
    (1.004, ""), (0.996, ""), (1.02, "another moment"), (2.0, "reads twice"), (0.5, "reads half"),
    (1.5, "1.5 times"), (3.0, "three times"),
    (44.1 / 48.0, "wrong sampling rate"), (48.0 / 44.1, "wrong sampling rate"),
])  # fmt: skip
def test_the_tachometer_against_the_speed_that_is_heard(ratio: float, words: str) -> None:
    findings = found(with_dwell(speed=spoken(ratio * 1020.0)))
    assert bool(findings) == bool(words)
    if words:
        one = only(findings)
        assert (one.rule, one.blocks, one.subject) == (20, True, "run:run1")
        assert words in one.cause


def test_the_pulses_that_fit_are_told() -> None:
    assert "gives 2, the tachometer was set to 1" in only(found(with_dwell(speed=spoken(2040.0)))).cause
    assert "gives 2, the tachometer was set to 4" in only(found(with_dwell(speed=spoken(510.0)))).cause
    assert "3 would fit where 2" in only(found(with_dwell(speed=spoken(1530.0)))).cause


def at(*readings: tuple[float, float]) -> list[Finding]:
    """What rule 20 finds of dwells with these readings of the tachometer and these speeds [rpm]."""
    runs = tuple(
        replace(dwell(i, heard), speed=spoken(shown, heard)) for i, (shown, heard) in enumerate(readings)
    )
    return [each for each in found(mounting(recordings=runs)) if each.rule == 20]


def test_one_wrong_setting_of_the_tachometer_is_one_finding_of_the_mounting() -> None:
    one = only(at(*((2 * each, each) for each in SPEEDS)))
    assert one.subject == "mounting:Rush-q1"


def test_a_display_in_steps_of_ten_may_be_half_a_step_off() -> None:
    assert at((300.0, 304.0), (330.0, 334.0), (360.0, 356.0)) == []
    assert len(at((310.0, 300.0), (330.0, 330.0), (360.0, 360.0))) == 1
    assert len(at((300.0, 304.0), (331.0, 335.0), (360.0, 356.0))) == 1  # a display that shows single steps


def test_blades_that_are_not_those_heard_are_a_mark() -> None:
    runs = tuple(replace(each, speed=replace(spoken(s, s), blades=9, told_blades_fit=False))
                 for each, s in zip(DWELLS, (*SPEEDS, SPEEDS[0]), strict=True))  # fmt: skip
    one = only(found(*(mounting(name, recordings=runs) for name in ("Rush-q1", "Rush-q2"))))
    assert (one.rule, one.blocks) == (20, False)
    assert "9 blades, 7 are told" in one.found


@pytest.mark.parametrize(("drift", "marked"), [(0.0049, False), (0.0051, True)])
def test_a_speed_that_moves_while_it_is_recorded(drift: float, marked: bool) -> None:
    findings = found(with_dwell(speed=spoken(1020.0, sound_drift=drift)))
    assert [(each.rule, each.blocks) for each in findings] == [(19, False)] * marked


# --- 39 to 43: repeats and mountings


@pytest.mark.parametrize(("moved", "severity"), [(0.49, ""), (0.55, "W"), (-0.9, "B")])
def test_the_repeat_of_the_first_setting(moved: float, severity: str) -> None:
    findings = found(with_dwell(4, corrected=level_at(SPEEDS[0]) + moved))
    assert [each.severity.value for each in findings] == list(severity)
    assert all(each.rule == 39 and each.subject == "run:run9" for each in findings)


def test_no_repeat_and_a_single_mounting_mark() -> None:
    one = only(found(mounting(recordings=DWELLS[:4])))
    assert (one.rule, one.blocks) == (39, False)
    alone = only(found(mounting(), mountings=(mounting(),)))
    assert (alone.rule, alone.blocks) == (40, False)
    assert only(found(mounting(), contends=True)).rule == 40


@pytest.mark.parametrize(("apart", "severity"), [(1.0, ""), (1.3, "W"), (2.1, "B")])
def test_mountings_of_one_sample_at_the_same_speeds(apart: float, severity: str) -> None:
    # 2.8 s_r = 1.12 dB and 5 s_r = 2 dB with the first year's 0.4 dB
    findings = found(mounting(), mounting("Rush-q2", sound=sound(offset=apart)), targets=())
    assert [each.severity.value for each in findings] == list(severity)
    assert all(each.rule == 41 for each in findings)


def test_a_mounting_that_something_speaks_against_is_not_held_against_others() -> None:
    drifted = mounting("Rush-q2", sound=sound(offset=3.0), scales=(replace(SCALE, drift=3.0),))
    assert [each.rule for each in found(mounting(), drifted, targets=())] == [5]


def test_a_warm_up_that_was_too_short_is_a_mark() -> None:
    assert only(found(with_dwell(warm_up=200.0))).rule == 43
    assert found(with_dwell(warm_up=301.0)) == []


# --- limits of the lab


def test_limits_of_the_lab_are_kept_to_and_told() -> None:
    drifted = mounting(scales=(replace(SCALE, drift=0.4),))
    one = only(found(drifted, limits=Limits(calibrator_drift=0.3)))
    assert "calibrator before against after: 0.3 dB, usually 0.5 dB" in one.expected
    assert found(mounting(scales=(replace(SCALE, drift=0.8),)), limits=Limits(calibrator_drift=1.0)) == []
