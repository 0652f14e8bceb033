"""Questions about the channels of a log whose names tell nothing: which is the hot probe, which the air's …"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stillroom import wording
from stillroom.errors import BadInput
from stillroom.lab.intake.batch import Ask, File
from stillroom.readers.words.headers import split_header, squeeze
from stillroom.vocabulary import BY_NAME, air_probe


@dataclass(frozen=True)
class _Question:
    """One question: the words for what is asked, the first quantity that answers give, and whether several may be."""

    words: str
    quantity: str
    several: bool = False


QUESTIONS = (
    _Question("is the hot probe", "hot_temperature"),
    _Question("are probes of the air before the radiator", air_probe(1), several=True),
    _Question("is the liquid into the radiator", "liquid_in_temperature"),
    _Question("is the liquid out of the radiator", "liquid_out_temperature"),
    _Question("is the heater's power", "heater_power"),
    _Question("is the heater's voltage", "heater_voltage"),
    _Question("is the heater's current", "heater_current"),
    _Question("is the liquid's flow", "liquid_flow"),
)
"""In this order; one is left out where the log has the channel, or no column left in such a unit."""


def channels_told(
    file: File, unnamed: Mapping[str, str], known: Mapping[str, str], ask: Ask
) -> dict[str, str]:
    """What a person tells of the columns of a log that name no quantity, as overrides ("column:T3": "hot_temperature");
    those that were asked about and are none of it are left out ("none").

    Parameters
    ----------
    unnamed : {header: dimension of its unit, "" without one}. known : {quantity: header} of the others.

    Raises
    ------
    BadInput : an answer that is none of the columns.
    """
    left = dict(unnamed)
    told: dict[str, str] = {}
    asked: dict[str, None] = {}
    for each in QUESTIONS:
        dimension = BY_NAME[each.quantity].dimension
        fitting = [header for header, own in left.items() if own in {"", dimension}]
        if not fitting or each.quantity in known:
            continue
        which = "which columns" if each.several else "which column"
        several = "several parted by commas; " if each.several else ""
        answer = ask(
            f"{file.name}: {which} {each.words}: {wording.listed(fitting)}? ({several}empty for none)"
        )
        for number, header in enumerate(_chosen(file, answer, fitting, several=each.several), start=1):
            told[f"column:{header}"] = air_probe(number) if each.several else each.quantity
            del left[header]
        asked |= dict.fromkeys(fitting)
    return told | {f"column:{header}": "none" for header in asked if header in left}


def _chosen(file: File, answer: str, headers: list[str], *, several: bool) -> list[str]:
    words = {squeeze(each): each for header in headers for each in (header,)}
    words |= {squeeze(split_header(header).name): header for header in headers}
    given = [each.strip() for each in (answer.split(",") if several else [answer]) if each.strip()]
    unknown = next((each for each in given if squeeze(each) not in words), "")
    if unknown:
        raise BadInput(
            "column that was answered", place=file.name, found=repr(unknown), expected=wording.listed(headers)
        )
    return list(dict.fromkeys(words[squeeze(each)] for each in given))
