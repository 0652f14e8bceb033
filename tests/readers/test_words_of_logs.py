"""Names of logs: words that say what was logged are no fans and no obstacles; the folder above them is the fan."""

from __future__ import annotations

import pytest

from stillroom.errors import BadInput
from stillroom.readers.paths.inference import infer_pattern
from stillroom.readers.paths.plain_words import says_what_was_logged


@pytest.mark.parametrize(
    ("paths", "pattern"),
    [
        (["Rowan/s1/temps.csv"], "{fan}/s{sample}/{any}"),
        (["Willow/s1/all.csv"], "{fan}/s{sample}/{any}"),
        (["Rowan/s1/temps.csv", "Rowan/s1/heater.csv"], "{fan}/s{sample}/{any}"),
        (["Rowan/s1/temps.csv", "Willow/s1/all.csv"], "{fan}/s{sample}/{any}"),
        (["Rowan/s1/temps.csv", "Willow/s2/drive.csv"], "{fan}/s{sample}/{any}"),
        (["Rowan/s1/pwm response.csv", "Rowan/s1/start.csv"], "{fan}/s{sample}/{any}"),
        (["Rowan/s1/fan speed.csv", "Rowan/s1/air in 2.csv"], "{fan}/s{sample}/{any}"),
        (["Rowan_temps.csv", "Willow_temps.csv"], "{fan}_{any}"),
        (["Rowan_s1_heat_log.csv", "Rowan_s1_room_log.csv"], "{fan}_s{sample}_{any}"),
        (["Moss/s1/rad27/log.csv", "Moss/s1/rad30/log.csv"], "{fan}/s{sample}/{obstacle}/{any}"),
        (["Moss/s1/rad27/60pct.csv", "Fern/s1/rad27/60pct.csv"], "{fan}/s{sample}/{obstacle}/{duty}pct"),
    ],
)
def test_what_was_logged_is_no_fan(paths: list[str], pattern: str) -> None:
    assert infer_pattern(paths).text == pattern


def test_a_fan_that_the_lab_knows_may_be_called_so() -> None:
    found = infer_pattern(["s1/Air.csv"], known={"fan": ["Air"]})
    assert found.text == "s{sample}/{fan}"


def test_where_only_such_words_stand_nothing_tells_the_fan() -> None:
    with pytest.raises(BadInput, match="no part that tells the fan"):
        infer_pattern(["s1/temps.csv", "s1/heater.csv"])


@pytest.mark.parametrize("text", ["Airlift", "Startlight", "Loggia", "Heath", "fan", "07", "fan 07", ""])
def test_names_that_only_begin_so_are_names(text: str) -> None:
    assert not says_what_was_logged(text)
