"""What all verbs need: opening the lab, numbers with units from the command line."""

from __future__ import annotations

import re
from pathlib import Path

from stillroom.errors import BadInput
from stillroom.store.lab import Lab
from stillroom.vocabulary import is_unit, unit

_NUMBER = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?)\s*(.*?)\s*")


def open_lab(lab: Path | None) -> Lab:
    """The lab that was named, or the nearest one upwards from here."""
    return Lab(lab if lab is not None else Path.cwd())


def quantity(text: str, option: str, dimension: str, usual: str) -> float | None:
    """A number with or without its unit, in SI; None where nothing was given.

    Raises
    ------
    BadInput : it isn't a positive number, or its unit isn't one of the dimension.
    """
    if not text:
        return None
    hit = _NUMBER.fullmatch(text)
    symbol = (hit.group(2) or usual) if hit else ""
    if not hit or not is_unit(symbol) or unit(symbol).dimension != dimension or float(_dot(hit)) <= 0.0:
        raise BadInput(option, found=repr(text), expected=f"a positive number, such as {option} '1500 {usual}'"
                       if dimension == "speed" else f"a positive number with a unit such as {usual}")  # fmt: skip
    known = unit(symbol)
    return float(_dot(hit)) * known.factor + known.offset


def _dot(hit: re.Match[str]) -> str:
    return hit.group(1).replace(",", ".")


def settings_told(pairs: list[str] | tuple[str, ...]) -> dict[str, str]:
    """`KEY=VALUE` texts as a mapping.

    Raises
    ------
    BadInput : a text without an equals sign, or a key twice.
    """
    told: dict[str, str] = {}
    for pair in pairs:
        key, sign, value = pair.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise BadInput("--as", found=repr(pair), expected="KEY=VALUE, such as --as 'unit:Airflow=CFM'")
        if key.strip() in told:
            raise BadInput("--as", found=f"{key.strip()!r} twice", expected="each key once")
        told[key.strip()] = value.strip()
    return told
