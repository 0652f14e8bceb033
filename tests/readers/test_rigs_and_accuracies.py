"""Rig files and one-line accuracies."""

from __future__ import annotations

import inspect
import textwrap

import pytest

from stillroom import errors
from stillroom.readers.registers import rigs
from stillroom.readers.registers.accuracy import EXAMPLES, parse_accuracy
from stillroom.readers.registers.rigs import Entry, read_rigs
from stillroom.readers.source import Source


def read(text: str) -> dict[tuple[str, str], Entry]:
    return {(each.kind, each.name): each for each in read_rigs(Source("rigs.toml", text.encode()))}


@pytest.mark.parametrize(
    ("text", "quantity", "relative", "fixed"),
    [
        ("± 3 % of reading", "flow", 0.03, 0.0),
        ("±0.25 % of reading ± 0.1 Pa", "static_pressure", 0.0025, 0.1),
        ("+/- 2 rpm", "speed", 0.0, 2 / 60),
        ("0.1 % FS of 500 Pa", "static_pressure", 0.0, 0.5),
        ("0.1 % of full scale (0.5 kPa)", "static_pressure", 0.0, 0.5),
        ("±(0.5 % + 0.1 Pa)", "static_pressure", 0.005, 0.1),
        ("± 0.5 % of reading + 0.2 % FS of 100 Pa + 0.1 Pa", "static_pressure", 0.005, 0.3),
        ("0,5 % of rdg", "flow", 0.005, 0.0),
        ("± 0.3 °C", "temperature", 0.0, 0.3),
        ("± 0.9 °F", "temperature", 0.0, 0.5),
        ("± 2 %RH", "relative_humidity", 0.0, 0.02),
        ("± 2 %", "relative_humidity", 0.0, 0.02),
        ("± 2 % of reading", "relative_humidity", 0.02, 0.0),
        ("± 1 hPa", "barometric_pressure", 0.0, 100.0),
        ("± 3 %", "", 0.03, 0.0),
    ],
)
def test_an_accuracy_is_understood(text: str, quantity: str, relative: float, fixed: float) -> None:
    accuracy = parse_accuracy(text, quantity=quantity)
    assert accuracy.relative == pytest.approx(relative, rel=1e-12)
    assert accuracy.fixed == pytest.approx(fixed, rel=1e-12)
    assert accuracy.half_width(-10.0) == pytest.approx(10 * relative + fixed, rel=1e-12)
    assert accuracy.text == text


def test_the_part_of_full_scale_is_kept_apart() -> None:
    accuracy = parse_accuracy("± 0.1 Pa ± 0.2 % FS of 100 Pa")
    assert accuracy.absolute == pytest.approx(0.1)
    assert accuracy.of_full_scale == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("text", "quantity", "kind"),
    [
        ("", "flow", errors.BadInput),
        ("good", "flow", errors.BadInput),
        ("± 3", "flow", errors.UnknownUnit),
        ("± 3 furlongs", "flow", errors.UnknownUnit),
        ("± 3 Pa", "flow", errors.Contradiction),
        ("0.1 % FS", "static_pressure", errors.BadInput),
        ("0.1 % FS of 500", "static_pressure", errors.BadInput),
        ("0.1 % FS of 500 rpm", "static_pressure", errors.Contradiction),
        ("± 0.5 % of reading", "temperature", errors.BadInput),
        ("± 120 % of reading", "flow", errors.BadInput),
        ("± 0 Pa", "static_pressure", errors.BadInput),
        ("± 3 % of reading (k = 2)", "flow", errors.BadInput),
        ("± 1,000 Pa", "static_pressure", errors.BadInput),
        ("± -3 %", "flow", errors.BadInput),
        ("± 1 Pa ± 1 rpm", "", errors.Contradiction),
        ("± 3 % " * 100, "flow", errors.BadInput),
    ],
)
def test_an_accuracy_that_is_not_understood(text: str, quantity: str, kind: type[Exception]) -> None:
    with pytest.raises(kind) as caught:
        parse_accuracy(text, quantity=quantity, place="rigs.toml, rig.duct.accuracy")
    assert type(caught.value) is kind
    assert "rigs.toml, rig.duct.accuracy" in str(caught.value)


def test_the_examples_of_messages_are_understood() -> None:
    for text in EXAMPLES:
        assert parse_accuracy(text).half_width(1.0) > 0


def test_the_documented_file_is_read() -> None:
    doc = inspect.getdoc(rigs) or ""
    example = textwrap.dedent(doc[doc.index("    [rig.chamber]") : doc.index("A number that has")])
    entries = read(example)
    chamber = entries["rig", "chamber"].fields
    assert chamber["purpose"] == "airflow"
    assert chamber["nozzles"] == ("N12", "N25")
    assert chamber["roles"] == {"nozzle_pressure": "dp-2"}
    gauge = entries["instrument", "dp-2"].fields
    assert (gauge["accuracy_relative"], gauge["accuracy_absolute"]) == (0.0025, 0.1)
    assert gauge["resolution"] == 0.01
    assert gauge["noise_absolute"] == 0.05
    calibration = entries["calibration", "dp-2"].fields
    assert calibration["date"] == "2026-03-01"
    assert calibration["due"] == "2027-03-01"
    assert (calibration["offset"], calibration["offset_u"]) == (0.2, 0.1)
    assert (calibration["gain"], calibration["gain_u"]) == (1.002, 0.001)
    assert calibration["linearity"] == [{"from": 0.0, "to": 100.0, "u": 0.1}]
    nozzle = entries["nozzle", "N25"].fields
    assert nozzle["bore"] == pytest.approx(0.025004, rel=1e-12)
    assert nozzle["bore_u"] == pytest.approx(5e-6, rel=1e-12)
    assert nozzle["length_ratio"] == 0.6
    assert entries["nozzle", "N25"].place == "rigs.toml, nozzle.N25"


def test_a_temperature_offset_is_a_difference_and_a_range_is_not() -> None:
    entries = read(
        "[instrument.t]\nquantity='temperature'\n[instrument.t.calibration]\ndate=2026-01-01\n"
        "offset='-0.1 °C'\n"
        "linearity=[{from='0 °C', to='50 °C', u='0.05 K'}]\n"
    )
    fields = entries["calibration", "t"].fields
    assert fields["offset"] == pytest.approx(-0.1, rel=1e-12)
    assert fields["linearity"] == [{"from": 273.15, "to": 323.15, "u": 0.05}]


def test_a_rig_with_nothing_but_an_accuracy_and_several_calibrations() -> None:
    entries = read_rigs(
        Source(
            "rigs.toml",
            "[rig.duct]\naccuracy = '± 3 % of reading'\n[instrument.p]\nquantity = 'static_pressure'\n"
            "[[instrument.p.calibration]]\ndate = 2025-01-01\n"
            "[[instrument.p.calibration]]\ndate = '2026-01-01'\ngain_u='0.1 %'\n".encode(),
        )
    )
    assert entries[0].fields == {"rig": "duct", "accuracy": "± 3 % of reading", "accuracy_relative": 0.03}
    dates = [each.fields["date"] for each in entries if each.kind == "calibration"]
    assert dates == ["2025-01-01", "2026-01-01"]
    assert entries[-1].fields["gain_u"] == pytest.approx(0.001)


NOZZLE = "[nozzle.N1]\nbore = '12.003 mm'\n"
GAUGE = "[instrument.p]\nquantity = 'static_pressure'\n"
CALIBRATION = GAUGE + "[instrument.p.calibration]\ndate = 2026-01-01\n"


@pytest.mark.parametrize(
    ("text", "kind", "parts"),
    [
        ("[nozzle.N1\n", errors.UnreadableFile, ["rigs.toml", "line 1"]),
        ("a = 1\na = 2\n", errors.UnreadableFile, ["line 2"]),
        ("", errors.UnreadableFile, ["nothing described"]),
        ("[nozle.N1]\nbore = '1 mm'\n", errors.BadInput, ["'nozle'", "'nozzle'?"]),
        (
            NOZZLE + "boer_u = '1 mm'\n",
            errors.BadInput,
            ["nozzle.N1", "'boer_u'", "'bore_u'?", "certificate"],
        ),
        ("[nozzle.N1]\n", errors.BadInput, ["'bore'", "nozzle.N1"]),
        ("[nozzle.N1]\nbore = 12.003\n", errors.UnknownUnit, ["nozzle.N1.bore", "12.003", "unit of length"]),
        ("[nozzle.N1]\nbore = '12.003'\n", errors.UnknownUnit, ["nozzle.N1.bore", "unit of length"]),
        ("[nozzle.N1]\nbore = '12 furlongs'\n", errors.UnknownUnit, ["nozzle.N1.bore", "'furlongs'"]),
        ("[nozzle.N1]\nbore = '12 Pa'\n", errors.Contradiction, ["nozzle.N1.bore", "unit of length"]),
        ("[nozzle.N1]\nbore = '-12 mm'\n", errors.BadInput, ["nozzle.N1.bore", "0.5 mm to 2 m"]),
        ("[nozzle.N1]\nbore = '12 m'\n", errors.BadInput, ["0.5 mm to 2 m"]),
        ("[nozzle.N1]\nbore = true\n", errors.BadInput, ["True"]),
        (NOZZLE + "bore_u = '-1 mm'\n", errors.BadInput, ["nozzle.N1.bore_u", "nothing negative"]),
        (NOZZLE + "length_ratio = 6\n", errors.BadInput, ["length_ratio", "0.5 or 0.6"]),
        (NOZZLE + "length_ratio = nan\n", errors.BadInput, ["length_ratio", "finite"]),
        (NOZZLE + "certificate = 7\n", errors.BadInput, ["certificate", "a text"]),
        ("nozzle = 5\n", errors.BadInput, ["[nozzle.NAME]"]),
        ("[rig.r]\nkind = 'airflow'\n", errors.BadInput, ["neither instruments nor an accuracy"]),
        ("[rig.r]\nspeed = 'a'\nspede = 'b'\n", errors.BadInput, ["'spede'", "'speed'?"]),
        ("[rig.r]\nspeed = 'a'\nnozzles = ['N1', 'N1']\n", errors.Contradiction, ["'N1' twice"]),
        ("[rig.r]\nspeed = 'a'\nroles = {speed = 'b'}\n", errors.Contradiction, ["rig.r.roles.speed"]),
        ("[rig.r]\naccuracy = '± 1 Pa'\n", errors.BadInput, ["rig.r.accuracy", "share of the reading"]),
        ("[rig.r]\naccuracy = 3\n", errors.BadInput, ["rig.r.accuracy", "a text"]),
        ("[instrument.p]\nquantity = 'flwo'\n", errors.BadInput, ["'flwo'", "'flow'?"]),
        (GAUGE + "accuracy = '± 1 rpm'\n", errors.Contradiction, ["instrument.p.accuracy"]),
        (GAUGE + "calibration = 5\n", errors.BadInput, ["instrument.p.calibration", "a table"]),
        (
            GAUGE + "calibration = {due = 2026-01-01}\n",
            errors.BadInput,
            ["instrument.p.calibration", "'date'"],
        ),
        (CALIBRATION + "due = 2025-12-31\n", errors.Contradiction, ["calibration.due", "2025-12-31"]),
        (CALIBRATION + "due = '31.12.2026'\n", errors.BadInput, ["calibration.due", "year-month-day"]),
        (CALIBRATION + "due = '2026-02-30'\n", errors.BadInput, ["calibration.due"]),
        (CALIBRATION + "gain = 10\n", errors.BadInput, ["calibration.gain", "near 1"]),
        (CALIBRATION + "gain_u = '2 Pa'\n", errors.Contradiction, ["calibration.gain_u"]),
        (
            CALIBRATION + "linearity = [{from = '9 Pa', to = '5 Pa', u = '1 Pa'}]\n",
            errors.Contradiction,
            ["linearity[1]", "9 Pa to 5 Pa"],
        ),
        (CALIBRATION + "linearity = [{from = '1 Pa'}]\n", errors.BadInput, ["linearity[1]", "'to'"]),
        (CALIBRATION + "linearity = 5\n", errors.BadInput, ["calibration.linearity", "a list"]),
    ],
)
def test_a_wrong_rig_file_names_the_place(text: str, kind: type[Exception], parts: list[str]) -> None:
    with pytest.raises(kind) as caught:
        read(text)
    assert type(caught.value) is kind
    for part in parts:
        assert part in str(caught.value), caught.value
    assert "rigs.toml" in str(caught.value)


def test_a_rig_file_that_is_binary_or_huge_is_refused() -> None:
    with pytest.raises(errors.BadInput):
        read_rigs(Source("rigs.toml", b"\xff\xfe\x00\x01"))
    with pytest.raises(errors.BadInput) as caught:
        read_rigs(Source("rigs.toml", b"#" * (rigs.SIZE_LIMIT + 1)))
    assert "at most" in str(caught.value)
    with pytest.raises(errors.UnreadableFile):
        read_rigs(Source("rigs.toml", b"a=" + b"[" * 100_000))
