"""The open data of a release: a data package that an outside library finds whole, with every column explained."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import frictionless
import pytest
from apostrophes import plain_text

from stillroom.lab.executor import silent
from stillroom.publish.contents import Contents
from stillroom.publish.data.cells import APOSTROPHE_RULE
from stillroom.publish.data.writing import package_name, write_open_data
from stillroom.records.fields import columns
from stillroom.records.kinds import KINDS
from stillroom.vocabulary import is_unit

Rows = list[dict[str, str]]


@pytest.fixture(scope="module")
def package(gathered: Contents, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("open-data")
    write_open_data(gathered, folder, silent)
    return folder


@pytest.fixture
def own(package: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(package, tmp_path / "own"))


def told(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return found


def rows(folder: Path, table: str) -> Rows:
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def errors(folder: Path) -> set[str]:
    """What the frictionless library finds wrong: types of errors, warnings counted as such."""
    report = frictionless.validate(str(folder / "datapackage.json"))
    found = {each.type for each in report.errors}
    for task in report.tasks:
        found |= {each.type for each in task.errors} | set(task.warnings)
    assert report.valid == (not found)
    return found


def test_an_outside_library_finds_nothing_wrong(package: Path) -> None:
    """Source: the frictionless library, of those who wrote the specifications."""
    assert errors(package) == set()
    assert len(told(package)["resources"]) > 20


def _reseal(folder: Path, table: str) -> None:
    """Make hash and size fit a file that was changed, so that only what is in it can be wrong."""
    descriptor, data = told(folder), (folder / f"{table}.csv").read_bytes()
    for each in descriptor["resources"]:
        if each["name"] == table:
            each |= {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}
    (folder / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")


def _change(folder: Path, table: str, change: Callable[[list[str]], list[str]]) -> None:
    path = folder / f"{table}.csv"
    lines = path.read_bytes().decode("utf-8").split("\r\n")
    path.write_bytes("\r\n".join(change(lines)).encode("utf-8"))


@pytest.mark.parametrize(
    ("table", "change", "found"),
    [
        ("standings", lambda lines: [lines[0], lines[1], lines[1], *lines[2:]], "primary-key"),
        ("samples", lambda lines: [lines[0], lines[1].replace(lines[1].split(",")[0], "Nobody", 1), *lines[2:]],
         "foreign-key"),
        ("points", lambda lines: [lines[0], lines[1].replace(",0.0,", ",none,", 1), *lines[2:]], "type-error"),
        ("measures", lambda lines: [lines[0], "," + lines[1].partition(",")[2], *lines[2:]], "constraint-error"),
        ("fans", lambda lines: [lines[0], lines[1] + ",more", *lines[2:]], "extra-cell"),
        ("curves", lambda lines: [lines[0].replace("pressure_low", "low"), *lines[1:]], "incorrect-label"),
    ],
)  # fmt: skip
def test_a_broken_file_is_found(own: Path, table: str, change: Any, found: str) -> None:
    _change(own, table, change)
    _reseal(own, table)
    assert found in errors(own)


def test_a_changed_file_is_found_by_its_hash(own: Path) -> None:
    _change(own, "prices", lambda lines: [lines[0], lines[1].replace("EUR", "USD"), *lines[2:]])
    assert errors(own) == {"hash-count"}


def test_every_column_says_what_it_is(package: Path) -> None:
    elsewhere = {  # numbers whose unit another column tells, or that are counts, money or plain ratios of a record
        *("standings/value", "standings/low", "standings/high", "standings/lower_end", "standings/upper_end"),
        *("standings/price", "prices/price", "measures/margin"),
        *("claims/value", "claims/measured", "claims/low", "claims/high", "claims/score"),
        *(f"control/{each}" for each in ("start_above", "start_at", "stop_at", "stop_above", "full_setting")),
        *(f"instruments/{each}" for each in ("accuracy_absolute", "resolution", "span", "noise_absolute")),
        *(f"calibrations/{each}" for each in ("offset", "offset_u", "gain", "gain_u")),
        "nozzles/length_ratio",
    }
    composed = {"Pa s/m³", "Pa s²/m⁶", "Pa/(m³/s)ⁿ", "1", "kg/m³", "dB", "dBC"}
    bare = set()
    for table in told(package)["resources"]:
        names = [each["name"] for each in table["schema"]["fields"]]
        assert len(set(names)) == len(names)
        for field in table["schema"]["fields"]:
            assert field["title"].strip(), (table["name"], field["name"])
            assert field["description"].endswith(".")
            assert field["type"] in {"string", "number", "integer", "boolean"}
            assert is_unit(field.get("unit", "Pa")) or field["unit"] in composed, field
            if field["type"] == "number" and not field.get("unit"):
                bare.add(f"{table['name']}/{field['name']}")
    assert bare == elsewhere


def test_a_record_s_words_are_the_dictionary_s_words(package: Path) -> None:
    """One definition: the titles and units of columns that show records are those of the records."""
    kinds = {
        "fans": "fan",
        "prices": "price",
        "calibrations": "calibration",
        "nozzles": "nozzle",
        "rounds": "round",
    }
    fields = {each["name"]: each["schema"]["fields"] for each in told(package)["resources"]}
    for table, kind in kinds.items():
        known = {each.field: (each.header, each.shown) for each in columns(KINDS[kind])}
        for field in fields[table]:
            assert known[field["name"]] == (field["title"], field.get("unit", ""))


def test_hash_and_bytes_are_those_of_the_files(package: Path) -> None:
    for each in told(package)["resources"]:
        data = (package / each["path"]).read_bytes()
        assert each["bytes"] == len(data)
        assert each["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"
    assert {each.name for each in package.iterdir()} == {
        "datapackage.json",
        *(each["path"] for each in told(package)["resources"]),
    }


def test_the_package_says_which_release_it_is_of(package: Path, gathered: Contents, tmp_path: Path) -> None:
    found = told(package)
    assert found["version"] == "spring 2026"
    assert found["name"] == "spring-2026" == package_name("Spring 2026")
    assert found["created"] == "2026-03-04T00:00:00Z"
    assert found["texts"] == APOSTROPHE_RULE
    assert "licenses" not in found, "no licence is told unless the laboratory tells one"
    publish = replace(gathered.settings.publish, licence="CC-BY-4.0")
    book = replace(gathered.book, settings=replace(gathered.settings, publish=publish))
    licensed = replace(gathered, whole=gathered.whole._replace(book=book))
    write_open_data(licensed, tmp_path, silent)
    assert told(tmp_path)["licenses"] == [{"name": "CC-BY-4.0"}]
    assert errors(tmp_path) == set()


@pytest.mark.parametrize("name", ["Größe №7", "###", "a_b.c-d", "  x  "])
def test_any_name_of_a_release_makes_a_name_of_a_package(name: str) -> None:
    made = package_name(name)
    assert made
    assert set(made) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_.")


def test_the_same_contents_give_the_same_bytes(package: Path, gathered: Contents, tmp_path: Path) -> None:
    for each in write_open_data(gathered, tmp_path, silent):
        assert each.read_bytes() == (package / each.name).read_bytes()


def test_hostile_words_stay_texts_and_come_back(gathered: Contents, tmp_path: Path) -> None:
    name = gathered.fans[0]
    fans = dict(gathered.book.fans)
    fans[name] = replace(fans[name], maker='=HYPERLINK("http://example.org")', model='+1\n=2;@x,"y"')
    book = replace(gathered.book, fans=fans)
    write_open_data(replace(gathered, whole=gathered.whole._replace(book=book)), tmp_path, silent)
    assert errors(tmp_path) == set()
    told_ = next(each for each in rows(tmp_path, "fans") if each["fan"] == name)
    assert told_["maker"].startswith("'=")
    assert plain_text(told_["maker"]) == fans[name].maker
    assert plain_text(told_["model"]) == fans[name].model


def test_fans_that_are_not_published_are_nowhere(gathered: Contents, tmp_path: Path) -> None:
    one = gathered.published[0]
    kept, gone = one.ranking.standings[:2], one.ranking.standings[2:]
    assert gone
    ranking = replace(
        one.ranking,
        standings=kept,
        pairs=tuple(each for each in one.ranking.pairs if {each.a, each.b} <= {one_.fan for one_ in kept}),
        best=tuple(each.fan for each in kept),
        excluded=(),
        prices=None,
    )
    few = replace(gathered, published=(replace(one, ranking=ranking),), accepted=(), excluded=())
    write_open_data(few, tmp_path, silent)
    assert errors(tmp_path) == set()
    assert {each["fan"] for each in rows(tmp_path, "points")} == {each.fan for each in kept}
    everything = "".join(each.read_text(encoding="utf-8") for each in tmp_path.iterdir())
    for each in gone:
        assert each.fan not in everything
