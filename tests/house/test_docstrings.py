"""The docstrings of the calculation rooms, read by a test: parameters, units, sources."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator

import pytest

import stillroom.core
from stillroom import vocabulary

Function = Callable[..., object]

# Units of the SI and the field that the vocabulary, which is about columns of exports, has no need of.
# Source: SI Brochure, 9th edition (2019), tables 2 to 4 and 8.
OTHER_UNITS = {*("-", "kg", "g", "mol", "J", "N", "rad", "dB", "dBA", "Hz", "kJ", "kW", "µm", "rev")}
HEADINGS = re.compile(r"^[ \t]*([A-Z][A-Za-z ]+)\n[ \t]*-{3,}[ \t]*$", re.MULTILINE)


def core_functions() -> Iterator[tuple[str, Function]]:
    """Every public function that is written down in `core`."""
    for found in pkgutil.walk_packages(stillroom.core.__path__, "stillroom.core."):
        module = importlib.import_module(found.name)
        for name, thing in sorted(vars(module).items()):
            if inspect.isfunction(thing) and thing.__module__ == module.__name__ and name[0] != "_":
                yield f"{module.__name__.removeprefix('stillroom.')}.{name}", thing


FUNCTIONS = dict(core_functions())
every_function = pytest.mark.parametrize("name", sorted(FUNCTIONS))


def is_standard(name: str) -> bool:
    """Whether a function is one of a standard's formulas."""
    return name.startswith("core.standards.") and not name.startswith("core.standards.limits.")


def sections(doc: str) -> dict[str, str]:
    """The text under each heading of a docstring."""
    pieces = HEADINGS.split(inspect.cleandoc(doc))
    return dict(zip(pieces[1::2], pieces[2::2], strict=True))


def described(text: str) -> list[str]:
    """The parameters that a section describes: `name : words`, or several names before one colon."""
    names: list[str] = []
    for line in text.splitlines():
        entry = re.match(r"^(\*{0,2}\w+(?:, *\*{0,2}\w+)*) *:", line)
        if entry:
            names += [name.strip(" *") for name in entry[1].split(",")]
    return names


def complaints(function: Function, standard: bool) -> list[str]:
    """What a docstring lacks; one of a standard's formulas describes its parameters and names its source.

    A function that only tells where a formula is valid is excused: its limits carry their source as data.
    """
    doc = function.__doc__
    if not doc:
        return ["has no docstring"]
    formula = standard and function.__annotations__.get("return") != "Flags"
    found = sections(doc)
    wrong = []
    if formula or "Parameters" in found:
        parameters = list(inspect.signature(function).parameters)
        named = described(found.get("Parameters", ""))
        if named != parameters:
            wrong.append(f"describes the parameters {named}; the signature has {parameters}")
    wrong += [f"unknown unit [{unit}]" for unit in units_in(doc) if not is_known(unit)]
    if formula and not re.search(r"\b(Source|References)\b", doc):
        wrong.append("names no source")
    return wrong


def units_in(text: str) -> list[str]:
    """What stands in square brackets, without ranges such as [0, 1] and indices such as x[i]."""
    return [unit for unit in re.findall(r"(?<![\w\]])\[([^\]]*)\]", text) if not re.search(r"[,|=+−]", unit)]


def is_known(text: str) -> bool:
    """Whether a unit is the vocabulary's, or composed of units with ·, /, brackets and powers."""
    if vocabulary.is_unit(text):
        return True
    atoms = re.split(r"[·*/() ]+|\^?[-⁻]?[0-9⁰¹²³⁴⁵⁶⁷⁸⁹]+(?:\.[0-9]+)?", text)
    atoms = [atom for atom in atoms if atom]
    return (
        text == "1"
        or text in OTHER_UNITS
        or (bool(atoms) and all(atom in OTHER_UNITS or vocabulary.is_unit(atom) for atom in atoms))
    )


@every_function
def test_a_docstring_says_what_its_function_takes_and_whence(name: str) -> None:
    assert complaints(FUNCTIONS[name], standard=is_standard(name)) == []


def test_there_are_functions_to_look_at() -> None:
    assert FUNCTIONS


def swapped(pressure: float, temperature: float) -> float:
    """Something.

    Parameters
    ----------
    temperature : the air's [K].
    pressure : the air's [furlong].

    Returns
    -------
    the density [kg/m³].
    """
    return pressure / temperature


def whole(pressure: float, temperature: float, *, share: float = 0.5) -> float:
    """Something. Source: a standard of 2007, equation 1.

    Parameters
    ----------
    pressure, temperature : the air's [Pa], [K], shape (n,).
    share : of the one in the other [1], within [0, 1].

    Returns
    -------
    the specific heat [J/(kg·K)].
    """
    return share * pressure / temperature


def test_a_bad_docstring_is_caught() -> None:
    wrong = complaints(swapped, standard=True)
    assert len(wrong) == 3
    assert "signature has ['pressure', 'temperature']" in wrong[0]
    assert wrong[1:] == ["unknown unit [furlong]", "names no source"]
    assert complaints(lambda x: x, standard=False) == ["has no docstring"]


def test_a_good_docstring_is_let_through() -> None:
    assert complaints(whole, standard=True) == []


@pytest.mark.parametrize(
    "unit", ["Pa", "kg/m³", "Pa·s", "Pa s", "J/(kg·K)", "1/s", "m^2", "s⁻¹", "-", "1", "m²·K/W"]
)
def test_units_are_known(unit: str) -> None:
    assert is_known(unit)


@pytest.mark.parametrize("unit", ["", "furlong", "kg/elephant", "m3x"])
def test_words_are_not_units(unit: str) -> None:
    assert not is_known(unit)
