from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.errors import BadInput, StillroomError, UnreadableFile
from stillroom.records.settings import MARGINS, Settings, SoundSettings, read_settings, template


def read(tmp_path: Path, text: str | bytes) -> Settings:
    file = tmp_path / "lab.toml"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_settings(file)


def test_what_is_not_set_is_as_usual(tmp_path: Path) -> None:
    assert read(tmp_path, "") == Settings()
    assert read(tmp_path, template("Heather Lab")) == Settings(name="Heather Lab")


def test_everything_that_the_template_shows_may_be_set(tmp_path: Path) -> None:
    """Each line that shows a setting, with its # taken away, is one that is read."""
    lines = template("x").splitlines()
    shown = [
        line[2:] if line.startswith("# ") and ("= " in line or line[2] == "[") else line for line in lines
    ]
    found = read(tmp_path, "\n".join(shown))
    assert found.trials == 2000
    assert found.references == ("rad27",)
    assert found.rig == "chamber"
    assert found.names
    assert set(found.units) == {"flow", "pressure"}
    assert found.margins == MARGINS
    assert found.sound == SoundSettings()


def test_noise_limits_are_read_in_rising_order(tmp_path: Path) -> None:
    text = "[margins]\nlevel = 1.5\n[sound]\nlimits = [35, 22.5]\nrule = 'never exceeded'\ndistance = 1\n"
    found = read(tmp_path, text)
    assert found.sound == SoundSettings((22.5, 35.0), "never exceeded", 1.0)
    assert found.margins["level"] == 1.5


def test_a_mark_at_the_start_as_some_editors_write_it_does_no_harm(tmp_path: Path) -> None:
    assert read(tmp_path, b"\xef\xbb\xbf" + template("Heather").encode()) == Settings(name="Heather")


def test_a_margin_that_is_set_leaves_the_others(tmp_path: Path) -> None:
    found = read(tmp_path, "[margins]\nairflow = 0.03\n")
    assert found.margins == MARGINS | {"airflow": 0.03}


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("name = ", UnreadableFile, "TOML"),
        (b"name = '\xff'", UnreadableFile, "TOML"),
        ("x = " + "[" * 100_000, UnreadableFile, "TOML"),
        ("name = 'a'\nname = 'b'", UnreadableFile, "TOML"),
        ("trails = 2000", BadInput, "'trails'.*'trials'"),
        ("zzz = 1", BadInput, "'zzz'.*name, trials"),
        ("name = 3", BadInput, "name.*text in quotes"),
        ("rig = ['a']", BadInput, "rig.*text in quotes"),
        ("names = true", BadInput, "names.*text in quotes"),
        ("trials = 499", BadInput, "trials.*from 500"),
        ("trials = 20001", BadInput, "trials.*from 500"),
        ("trials = 2000.0", BadInput, "trials.*whole number"),
        ("trials = true", BadInput, "trials.*whole number"),
        ("[units]\nreferences = ['rad27']", BadInput, "references.*below the line \\[units\\]"),
        ("references = 'rad27'", BadInput, "references.*list of names"),
        ("references = ['rad27', 3]", BadInput, "references.*list of names"),
        ("units = 'SI'", BadInput, r"units.*\[units\]"),
        ("[units]\nflow = 'Pa'", BadInput, "flow.*unit of flow"),
        ("[units]\nflow = 'furlong'", BadInput, "flow.*unit of flow"),
        ("[units]\nflow = 3", BadInput, "flow.*unit of flow"),
        ("[units]\nspleen = 'Pa'", BadInput, "spleen"),
        ("margins = 0.05", BadInput, r"margins.*\[margins\]"),
        ("[margins]\nspleen = 0.05", BadInput, "spleen.*one of airflow"),
        ("[margins]\nlevel = 20", BadInput, "level.*number of dB"),
        ("sound = 35", BadInput, r"sound.*\[sound\]"),
        ("[sound]\nlimit = [25]", BadInput, "sound.limit.*limits"),
        ("[sound]\nlimits = 25", BadInput, "sound.limits.*list of levels"),
        ("[sound]\nlimits = []", BadInput, "sound.limits.*list of levels"),
        ("[sound]\nlimits = [25, 25]", BadInput, "sound.limits.*each once"),
        ("[sound]\nlimits = [25, -3]", BadInput, "sound.limits.*list of levels"),
        ("[sound]\nlimits = ['25 dBA']", BadInput, "sound.limits.*list of levels"),
        ("[sound]\nlimits = [true]", BadInput, "sound.limits.*list of levels"),
        ("[sound]\nrule = 'lowest'", BadInput, "sound.rule.*highest.*never exceeded"),
        ("[sound]\ndistance = '0.5 m'", BadInput, "sound.distance.*metres"),
        ("[sound]\ndistance = 50", BadInput, "sound.distance.*metres"),
        ("[margins]\nairflow = '5 %'", BadInput, "airflow.*share"),
        ("[margins]\nairflow = 5", BadInput, "airflow.*share"),
        ("[margins]\nairflow = 0", BadInput, "airflow.*share"),
        ("[margins]\nairflow = -0.1", BadInput, "airflow.*share"),
        ("[margins]\nairflow = nan", BadInput, "airflow.*share"),
        ("[margins]\nairflow = true", BadInput, "airflow.*share"),
    ],
)
def test_each_wrong_setting_is_named_with_what_would_be_right(
    tmp_path: Path, text: str | bytes, kind: type[StillroomError], words: str
) -> None:
    with pytest.raises(kind, match=words) as caught:
        read(tmp_path, text)
    assert "lab.toml" in caught.value.place


@given(st.text(max_size=30))
def test_any_name_makes_a_template_that_can_be_read(name: str) -> None:
    found = tomllib.loads(template(name))["name"]
    assert found == "".join(each for each in name if each.isprintable())


def test_settings_that_are_a_folder_are_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "lab.toml").mkdir()
    with pytest.raises(BadInput, match=r"lab\.toml"):
        read_settings(tmp_path / "lab.toml")
