"""What names of files say, and names that are refused."""

from __future__ import annotations

import pytest

from stillroom import errors
from stillroom.readers.paths.inference import infer_pattern
from stillroom.readers.paths.names import FIELDS, Pattern, table_of
from stillroom.readers.paths.safe import safe_name, safe_path


@pytest.mark.parametrize(
    ("paths", "pattern"),
    [
        (["fan-07/s1/rad27/60pct.csv", "fan-08/s2/open/100pct.csv"], "{fan}/s{sample}/{obstacle}/{duty}pct"),
        (["fan-07/s1/rad27/60pct.csv"], "{fan}/s{sample}/{obstacle}/{duty}pct"),
        (["fan-07_s1_rad27_60pct.csv", "fan-08_s1_open_80pct.csv"], "{fan}_s{sample}_{obstacle}_{duty}pct"),
        (["fan-07-s1-rad27-60pct.csv", "fan-08-s1-open-80pct.csv"], "{fan}-s{sample}-{obstacle}-{duty}pct"),
        (["Bracken/s1/m1/60%.csv", "Sedge/s1/m2/80%.csv"], "{fan}/s{sample}/m{mounting}/{duty}%"),
        (["Bracken/1200rpm.xlsx", "Sedge/800rpm.xlsx"], "{fan}/{speed}rpm"),
        (["Bracken_12V.csv", "Bracken_7V.csv", "Sedge_9V.csv"], "{fan}_{volts}V"),
        (
            ["out/Bracken/sample1/60pct.csv", "out/Sedge/sample1/60pct.csv"],
            "out/{fan}/sample{sample}/{duty}pct",
        ),
        (["Bracken/pwm60.csv", "Sedge/pwm80.csv"], "{fan}/pwm{duty}"),
        (["2026-03-02/Bracken_60pct.csv", "2026-03-03/Sedge_60pct.csv"], "{date}/{fan}_{duty}pct"),
        (["Bracken/mesh/60pct.csv", "Bracken/tall thing/60pct.csv"], "Bracken/{fan}/{duty}pct"),
        (["Bracken/s1/60pct_run1.csv", "Sedge/s1/60pct_run2.csv"], "{fan}/s{sample}/{duty}pct_run{any}"),
        (
            ["exports/Bracken/s1/60pct.csv", "exports/Bracken/s1/80pct.csv"],
            "exports/{fan}/s{sample}/{duty}pct",
        ),
        (["Bracken\\s1\\60pct.csv", "Sedge\\s1\\60pct.csv"], "{fan}/s{sample}/{duty}pct"),
    ],
)
def test_a_pattern_is_inferred(paths: list[str], pattern: str) -> None:
    assert infer_pattern(paths).text == pattern


def test_names_that_the_lab_knows_decide() -> None:
    paths = ["Bracken/mesh/60pct.csv", "Bracken/tall thing/60pct.csv"]
    known = {"fan": ["bracken"], "obstacle": ["mesh", "tall thing"]}
    assert infer_pattern(paths, known=known).text == "{fan}/{obstacle}/{duty}pct"


def test_what_is_given_need_not_be_told() -> None:
    with pytest.raises(errors.BadInput) as caught:
        infer_pattern(["60pct.csv", "80pct.csv"])
    assert "--as fan=NAME" in str(caught.value)
    assert infer_pattern(["60pct.csv", "80pct.csv"], given=["fan"]).text == "{duty}pct"


@pytest.mark.parametrize(
    ("paths", "parts"),
    [
        (
            ["a/s1/60pct.csv", "b/s1/80pct.csv", "c/60pct.csv"],
            ["'c/60pct.csv'", "1 folder above", "2 folders"],
        ),
        (["a/b/x/60pct.csv", "b/c/y/80pct.csv", "b/c/z/80pct.csv"], ["'b/c/y/80pct.csv'", "'y'", "{any}"]),
        ([], ["no file"]),
        (["../a/60pct.csv"], ["'../a/60pct.csv'"]),
    ],
)
def test_what_can_not_be_inferred_names_the_path(paths: list[str], parts: list[str]) -> None:
    with pytest.raises(errors.BadInput) as caught:
        infer_pattern(paths)
    for part in parts:
        assert part in str(caught.value), caught.value


def test_a_pattern_reads_paths() -> None:
    pattern = Pattern("{fan}/s{sample}/{obstacle}/{duty}pct")
    said = {"fan": "fan-07", "sample": "1", "obstacle": "rad27", "duty": "62.5"}
    assert pattern.match("fan-07/s1/rad27/62.5pct.csv") == said
    assert table_of(pattern.text, ["fan-07/s1/rad27/62.5pct.CSV"]) == (("fan-07/s1/rad27/62.5pct.CSV", said),)
    assert pattern.fields == ("fan", "sample", "obstacle", "duty")
    assert Pattern("{any}_{fan}").match("x_Sedge.csv") == {"fan": "Sedge"}


@pytest.mark.parametrize(
    ("path", "parts"),
    [
        ("fan-07/s1/rad27/fast.csv", ["'fast'", "{duty}pct"]),
        ("fan-07/x1/rad27/60pct.csv", ["'x1'", "s{sample}"]),
        ("fan-07/s1/60pct.csv", ["3 parts", "4"]),
    ],
)
def test_a_path_that_does_not_fit_names_its_part(path: str, parts: list[str]) -> None:
    with pytest.raises(errors.BadInput) as caught:
        Pattern("{fan}/s{sample}/{obstacle}/{duty}pct").table(["fan-07/s1/rad27/60pct.csv", path])
    for part in (path, *parts):
        assert part in str(caught.value), caught.value


def test_a_path_that_fits_in_two_ways_is_refused() -> None:
    with pytest.raises(errors.Contradiction):
        Pattern("{fan}_{obstacle}").match("wood_sorrel_open.csv")


@pytest.mark.parametrize("text", ["{}", "{fun}", "{fan", "fan", "{fan}/{fan}", "{fan}{duty}", ""])
def test_a_pattern_that_is_wrong_is_refused(text: str) -> None:
    with pytest.raises(errors.BadInput):
        Pattern(text)


def test_every_field_can_stand_in_a_pattern() -> None:
    example = {"date": "2026-03-02", "speed": "1200", "duty": "60", "volts": "12", "channel": "2"}
    for name in FIELDS:
        hit = Pattern(f"x_{{{name}}}").match(f"x_{example.get(name, 'a1')}.csv")
        assert hit == ({} if name == "any" else {name: example.get(name, "a1")})


@pytest.mark.parametrize(
    "path",
    ["/etc/a.csv", "C:/a.csv", "c:\\a.csv", "\\\\host\\a.csv", "../a.csv", "a/../b.csv", "a//b.csv",
     "./a.csv", "a\0.csv", "a\n.csv", "a/con.csv", "NUL", "com1.txt", "LPT9", "a./b.csv", "a /b.csv",
     " a.csv", "a:b.csv", "a?.csv", "", "x" * 700, "a/" + "é" * 150 + ".csv", "a\u202egpj.csv"],
)  # fmt: skip
def test_path_tricks_are_refused(path: str) -> None:
    with pytest.raises(errors.BadInput):
        safe_path(path)


def test_ordinary_names_are_kept() -> None:
    for name in (
        "60pct.csv",
        "Ö l/s.csv".replace("/", "-"),
        "console.csv",
        "com10.csv",
        ".hidden",
        "a b.csv",
    ):
        assert safe_name(name) == name
    assert safe_path("a\\b c\\60%.csv") == "a/b c/60%.csv"
    with pytest.raises(errors.BadInput):
        safe_name("a/b")
