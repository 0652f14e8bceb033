"""The methodology's fixed words: sources held against the code and the documentation, cautions, letters."""

from __future__ import annotations

import importlib
import inspect
import math
from pathlib import Path

import pytest

from stillroom.charts.fonts import BOX, printable
from stillroom.core.standards.ansi_amca_210_2007.air import viscosity
from stillroom.core.standards.ansi_amca_210_2007.nozzles import LengthRatio, discharge_coefficient
from stillroom.core.standards.iso_3744_2010 import K1
from stillroom.lab.purposes import Purpose
from stillroom.lab.sound.cautions import CAUTIONS
from stillroom.publish.methodology import cited
from stillroom.publish.methodology.cited import Cited
from stillroom.publish.methodology.guide import CONCERNS, cautions_for
from stillroom.publish.methodology.rules_applied import OF, rules_for
from stillroom.publish.methodology.steps_table import STEPS, Chapter, Step
from stillroom.quality.rules import BY_NUMBER

DOCS = Path(__file__).resolve().parents[2] / "docs"


def docstring_of(code: str) -> str:
    """The docstring at a dotted place below the package: of a module, or of what stands in one."""
    try:
        return inspect.getdoc(importlib.import_module(f"stillroom.{code}")) or ""
    except ModuleNotFoundError:
        module, _, name = f"stillroom.{code}".rpartition(".")
        return inspect.getdoc(getattr(importlib.import_module(module), name)) or ""


@pytest.mark.parametrize("each", cited.ALL, ids=lambda each: each.formula.plain[:24])
def test_each_formula_has_the_source_that_its_code_names(each: Cited) -> None:
    told = " ".join(docstring_of(each.code).split())
    assert told, each.code
    for words in each.says:
        assert words in told, (each.code, words)


@pytest.mark.parametrize("each", cited.ALL, ids=lambda each: each.formula.plain[:24])
def test_what_rests_on_memory_or_was_transcribed_says_so(each: Cited) -> None:
    for words in ("from memory", "transcribed"):
        if any(words in one for one in each.says):
            assert words in each.formula.source


def test_printed_coefficients_are_those_that_are_worked_with() -> None:
    """The formula as printed, worked by hand, gives what the code gives (ANSI/AMCA 210-07, 7.19 and 7.20)."""
    for ratio, length in ((LengthRatio.L_0_6, 0.6), (LengthRatio.L_0_5, 0.5)):
        plain = cited.COEFFICIENTS[length].formula.plain  # "C = 0.9986 − 7.006/√Re + 134.6/Re"
        a, b, c = (
            float(each.partition("/")[0])
            for each in plain.removeprefix("C = ").replace("−", "+").split(" + ")
        )
        by_hand = a - b / math.sqrt(40_000.0) + c / 40_000.0
        assert by_hand == pytest.approx(float(discharge_coefficient(40_000.0, ratio)), rel=1e-12)


def test_printed_viscosity_and_background_are_those_that_are_worked_with() -> None:
    """Closed forms: 20 °C by ANSI/AMCA 210-07, 7.6; K1 at 10 dB by ISO 3744:2010, (16)."""
    assert "(17.23 + 0.048 t) · 10⁻⁶" in cited.VISCOSITY.formula.plain
    assert float(viscosity(293.15)) == pytest.approx((17.23 + 0.048 * 20.0) * 1e-6)
    assert cited.BACKGROUND.formula.plain == "K₁ = −10 lg(1 − 10^(−ΔL/10))"
    assert float(K1(10.0)) == pytest.approx(-10.0 * math.log10(1.0 - 10.0**-1.0))


SECTION_OF = {Chapter.SOUND: "Sound", Chapter.HEAT: "Heat", Chapter.CONTROL: "Control"}


def documented() -> dict[tuple[str, str], str]:
    """{(section, step): source} of docs/methods.md; the first table has no heading of its own."""
    section, found = "", {}
    for line in (DOCS / "methods.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            section = line.removeprefix("## ")
        cells = [each.strip() for each in line.strip().strip("|").split(" | ")]
        if line.startswith("| ") and len(cells) in (2, 3):
            found[section, cells[0]] = cells[2].strip("| ") if len(cells) == 3 else ""
    return found


@pytest.mark.parametrize("each", STEPS, ids=lambda each: f"{each.chapter.value} {each.name}")
def test_each_step_stands_in_the_documentation_with_the_same_source(each: Step) -> None:
    told = documented()
    key = SECTION_OF.get(each.chapter, ""), each.name
    assert key in told, key
    assert told[key] == each.source


def test_every_caution_concerns_a_rig_and_the_words_are_those_of_the_sheets() -> None:
    assert set(CONCERNS) == {each.about for each in CAUTIONS}
    assert all(CONCERNS.values())
    assert cautions_for(list(Purpose)) == CAUTIONS


def test_a_lab_with_a_chamber_alone_is_not_told_of_heat_or_of_the_quiet_room() -> None:
    about = {each.about for each in cautions_for([Purpose.AIRFLOW])}
    assert {"Rotors", "Compressed air and doors moved by it", "Stop rule"} <= about
    assert about.isdisjoint({"Hot surfaces", "Liquid near electricity", "Quiet room"})
    assert "Quiet room" in [each.about for each in cautions_for([Purpose.SOUND])]
    assert "Liquid near electricity" in [each.about for each in cautions_for([Purpose.HEAT])]


def test_rules_of_what_was_not_measured_are_left_out() -> None:
    assert {number for numbers in OF.values() for number in numbers} <= set(BY_NUMBER)
    airflow = {each.number for each in rules_for([Purpose.AIRFLOW])}
    assert {1, 2, 24, 29, 41, 46} <= airflow
    assert airflow.isdisjoint({5, 6, 34, 37, 51})
    assert {each.number for each in rules_for([Purpose.AIRFLOW], with_nozzles=False)} == airflow - {
        22,
        23,
        24,
    }
    assert {each.number for each in rules_for(list(Purpose))} == set(BY_NUMBER)


def test_the_bundled_letters_can_set_every_formula_and_step() -> None:
    words = [
        part for each in cited.ALL for part in (each.formula.plain, each.formula.spoken, each.formula.source)
    ]
    words += [part for each in cited.ALL for where in each.formula.where for part in where]
    words += [part for each in STEPS for part in (each.words, each.source)]
    assert [each for each in words if BOX in printable(each)] == []
