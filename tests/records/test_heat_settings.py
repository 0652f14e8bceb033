"""The section [heat] of lab.toml: what a lab may set of its heat rig, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import BadInput
from stillroom.records.settings import HeatSettings, read_settings, template


def told(folder: Path, text: str) -> HeatSettings:
    path = folder / "lab.toml"
    path.write_text(text, encoding="utf-8")
    return read_settings(path).heat


def test_what_is_not_told_is_as_usual(tmp_path: Path) -> None:
    assert told(tmp_path, "") == HeatSettings(0.05, "sample", 300.0)
    assert told(tmp_path, "[heat]\nnominal = 250\n") == HeatSettings(0.05, "sample", 250.0)


def test_the_template_shows_the_usual(tmp_path: Path) -> None:
    lines = template("A lab").split("# [heat]\n")[1].splitlines()[:3]
    bare = "[heat]\n" + "\n".join(each.removeprefix("# ") for each in lines)
    assert told(tmp_path, bare) == HeatSettings()


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("tolerance = 0", "0"),
        ("tolerance = 5.0", "5.0"),
        ("tolerance = true", "True"),
        ('repeat = "often"', "'often'"),
        ("repeat = 2", "2"),
        ("nominal = 0", "0"),
        ('nominal = "300 W"', "'300 W'"),
        ("nominals = 300", "300"),
    ],
)
def test_what_nobody_can_mean_is_refused(tmp_path: Path, line: str, found: str) -> None:
    with pytest.raises(BadInput) as caught:
        told(tmp_path, f"[heat]\n{line}\n")
    assert caught.value.found == found
    assert caught.value.thing.startswith("setting 'heat.")
