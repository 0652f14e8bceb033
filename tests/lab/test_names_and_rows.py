"""Names and --as fill what a row of the run table leaves empty, whichever came in first; what contradicts is named."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_sound_intake import RIGS, SWEEP, placed, put, record

from stillroom import verbs
from stillroom.errors import Contradiction
from stillroom.lab.book import open_book, place_all
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

NAMES = {"names": "{fan}/s{sample}/{duty}pct"}
ACCURACY = {"accuracy": "± 3 % of reading"}


@pytest.fixture
def lab(tmp_path: Path) -> Lab:
    folder.make(tmp_path / "lab", template("Test"))
    return Lab(tmp_path / "lab")


@pytest.mark.parametrize("order", ["table first", "together", "table last"])
def test_names_fill_what_a_row_with_a_tachometer_leaves_empty(lab: Lab, tmp_path: Path, order: str) -> None:
    base = tmp_path / "day"
    record(base / "sedge" / "s2" / "40pct.wav")
    put(tmp_path / "rigs.toml", RIGS)
    table = put(tmp_path / "runs.csv", "file,tachometer [rpm]\nday/sedge/s2/40pct.wav,1080\n")
    bring_in(lab, [tmp_path / "rigs.toml"], {})
    for paths in {
        "table first": [[table], [base]],
        "together": [[table, base]],
        "table last": [[base], [table]],
    }[order]:
        assert not bring_in(lab, paths, NAMES if base in paths else {}).bad
    (run,) = placed(lab).values()
    assert (run.fan, run.sample, run.setting_kind, run.setting, run.rig) == (
        "sedge",
        "s2",
        "duty",
        0.4,
        "quiet",
    )
    assert run.row is not None
    assert run.row.tachometer == pytest.approx(18.0)
    assert not build_graph(open_book(lab)).unplaced


@pytest.mark.parametrize("first", ["table", "files"])
def test_of_airflow_too_a_row_wins_only_where_it_tells(lab: Lab, tmp_path: Path, first: str) -> None:
    put(tmp_path / "out" / "sedge" / "s2" / "60pct.csv", SWEEP)
    table = put(tmp_path / "runs.csv", "file,sample,warm-up [min]\nsedge/s2/60pct.csv,s3,10\n")
    paths = [table, tmp_path / "out"] if first == "table" else [tmp_path / "out", table]
    for path in paths:
        bring_in(lab, [path], NAMES | ACCURACY if path != table else {})
    (run,) = place_all(open_book(lab))
    assert (run.fan, run.sample, run.setting) == ("sedge", "s3", 0.6)


def test_as_fills_what_a_row_leaves_empty(lab: Lab, tmp_path: Path) -> None:
    record(tmp_path / "x" / "take.wav", channels=2)
    put(tmp_path / "runs.csv", "file,fan,tachometer [rpm]\nx/take.wav,Sedge,1080\n")
    bring_in(lab, [tmp_path / "runs.csv", tmp_path / "x"], {"duty": "50", "channel": "2", "holder": "soft"})
    (run,) = placed(lab).values()
    assert (run.fan, run.setting, run.channel) == ("Sedge", 0.5, 2)
    assert (run.taken.said or {})["holder"] == "soft"


@pytest.mark.parametrize(
    ("key", "value", "both"),
    [
        ("calibrator", "114", "114 dB by --as and 94 dB in its name"),
        ("recording", "dwell", "dwell by --as and calibrator before in its name"),
        ("recording", "calibrator after", "calibrator after by --as and calibrator before in its name"),
    ],
)
def test_as_cannot_contradict_a_recordings_own_name(
    lab: Lab, tmp_path: Path, key: str, value: str, both: str
) -> None:
    record(tmp_path / "day" / "cal94-before.wav")
    with pytest.raises(Contradiction, match=both):
        bring_in(lab, [tmp_path / "day"], {"fan": "Sedge", key: value}).refuse_bad()
    assert not placed(lab)
    assert bring_in(lab, [tmp_path / "day"], {"calibrator": "94", "recording": "calibrator"}).new
    with pytest.raises(Contradiction, match=both):
        bring_in(lab, [tmp_path / "day"], {"fan": "Sedge", key: value}).refuse_bad()


@pytest.mark.parametrize("table_last", [False, True])
def test_a_row_that_contradicts_a_recordings_own_name_is_marked(
    lab: Lab, tmp_path: Path, *, table_last: bool
) -> None:
    record(tmp_path / "day" / "cal94-before.wav")
    record(tmp_path / "day" / "bg.wav")
    table = put(
        tmp_path / "runs.csv",
        "file,fan,recording,calibrator [dB]\nday/cal94-before.wav,,,114\nday/bg.wav,Sedge,steady,\n",
    )
    if table_last:
        bring_in(lab, [tmp_path / "day"], {})
    added = bring_in(lab, [table] if table_last else [table, tmp_path / "day"], {})
    assert (
        "day/cal94-before.wav: calibrator 114 dB by the run table, which counts; its name says 94 dB"
        in added.marks
    )
    assert "day/bg.wav: dwell by the run table, which counts; its name says background" in added.marks
    assert not bring_in(lab, [table], {}).marks, "said once"


def test_a_preview_says_how_a_pattern_is_confirmed_without_a_terminal(lab: Lab, tmp_path: Path) -> None:
    for duty in (40, 60):
        record(tmp_path / "day" / "sedge" / "s1" / f"{duty}pct.wav")
    shown = verbs.add(tmp_path / "day", preview=True, lab=lab.path)
    (line,) = [each for each in shown.lines if each.startswith("Names: ")]
    told = "names={fan}/s{sample}/{duty}pct"
    assert f"--as '{told}'" in line
    assert verbs.add(tmp_path / "day", as_=(told,), no_check=True, lab=lab.path).data["new"]
    again = verbs.add(tmp_path / "day", preview=True, lab=lab.path)
    assert not any("--as 'names" in each for each in again.lines), "it is known now"


def test_a_recording_of_a_fan_that_is_not_used_is_said_at_add_and_at_review(lab: Lab, tmp_path: Path) -> None:
    record(tmp_path / "day" / "bg.wav")
    bring_in(lab, [tmp_path / "day"], {})
    table = put(tmp_path / "runs.csv", "file,recording\nday/bg.wav,dwell\n")
    words = "day/bg.wav: not used: no fan is named for it"
    assert f"Mark: {words}" in verbs.add(table, lab=lab.path).lines
    assert words in verbs.review(lab=lab.path).lines
