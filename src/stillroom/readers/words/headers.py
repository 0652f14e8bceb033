"""What a column's header says: its name, its unit, and the quantities that the name can stand for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from stillroom.vocabulary import QUANTITIES, UNITS, Quantity, is_unit, plain, unit

NOZZLES, POINT, TIME, DATE, SWEEP, DIRECTION = "nozzles", "point", "time", "date", "sweep", "direction"
FAN, SAMPLE, MOUNTING, OBSTACLE = "fan", "sample", "mounting", "obstacle"
RECORDING = "recording"
STARTED, ATTEMPTS, COLD, FROM_REST, CONTROL = "started", "attempts", "cold", "from_rest", "control"
NAMES = (FAN, SAMPLE, MOUNTING, OBSTACLE)
"""Text columns that name what was measured; another name begins another sweep."""

TEXT_COLUMNS: dict[str, tuple[str, ...]] = {
    NOZZLES: ("nozzles", "nozzle", "open nozzles", "nozzles open", "nozzle pattern", "düsen", "düse",
              "offene düsen", "buses", "tuyères"),
    POINT: ("point", "pt", "point no", "no", "nr", "index", "reading", "reading no", "messpunkt", "punkt",
            "point de mesure", "n°"),
    TIME: ("time", "clock", "timestamp", "date time", "datetime", "date and time", "zeit", "uhrzeit",
           "zeitstempel", "datum uhrzeit", "datum zeit", "heure", "date heure", "horodatage", "time stamp", "epoch",
           "epoch time", "unix time", "unix", "unix timestamp", "utc", "utc time", "local time", "scan time",
           "sample time"),
    DATE: ("date", "datum", "day", "jour"),
    SWEEP: ("sweep", "sweep no", "run", "run no", "setting", "setting no", "series", "curve", "kennlinie",
            "messreihe", "lauf", "essai", "série"),
    DIRECTION: ("direction", "up down", "richtung", "sens"),
    FAN: ("fan", "fan name", "fan id", "lüfter", "ventilator", "ventilateur"),
    SAMPLE: ("sample", "sample id", "specimen", "muster", "prüfling", "échantillon"),
    MOUNTING: ("mounting", "mounting no", "einbau", "montage"),
    OBSTACLE: ("obstacle", "obstacle name", "restriction", "widerstand"),
    RECORDING: ("recording", "recorded", "aufnahme", "enregistrement"),
    STARTED: ("started", "started?", "starts", "starts?", "did it start", "did it start?", "start ok", "started ok",
              "successful starts", "start successful", "angelaufen", "angelaufen?", "läuft an", "gestartet", "anlauf",
              "anlauf ok", "anläufe", "démarré", "démarré?", "démarre", "démarrage", "démarrages"),
    ATTEMPTS: ("attempts", "tries", "trials", "number of attempts", "versuche", "anzahl versuche", "tentatives"),
    COLD: ("cold", "cold?", "cold start", "from cold", "kalt", "kaltstart", "froid", "à froid"),
    FROM_REST: ("from rest", "from rest?", "at rest", "aus stillstand", "aus dem stillstand", "à l'arrêt"),
    CONTROL: ("control", "control wire", "control signal", "pwm wire", "steuerleitung", "ansteuerung",
              "fil de commande", "commande"),
}  # fmt: skip
"""Columns that are kept as text, with the words that exports use for them."""

COMPUTED = frozenset(
    {
        *("air_power", "static_efficiency", "length"),
        *("sound_pressure", "calibrator_level", "loudness", "loudness_level", "sharpness"),
        *("temperature_difference", "conductance", "thermal_resistance"),
        *("departure", "relative_speed"),
    }
)
"""Quantities of the vocabulary that no table of a bench holds."""

READ = tuple(each for each in QUANTITIES if each.name not in COMPUTED)
"""The quantities that a measurement file can hold."""

_BRACKETS = re.compile(r"(?P<name>.*?)\s*\[(?P<unit>[^\[\]]*)\]\s*")
_PARENTHESES = re.compile(r"(?P<name>.*?)\s*\((?P<unit>[^()]*(?:\([^()]*\))?)\)\s*")
_SEPARATOR = re.compile(r"\s+in\s+|\s*[/,]\s*|\s+|_")
_HEADER_LIMIT = 200


@dataclass(frozen=True)
class Header:
    """A column's header, taken apart.

    Parameters
    ----------
    text : the header as it stands in the file.
    name : its words without the unit.
    unit : the unit's words as they stand there; empty where there is none.
    """

    text: str
    name: str
    unit: str


def squeeze(text: str) -> str:
    """A header's words for comparison, without blanks, case, dots, dashes and underscores."""
    return plain(text).replace(" ", "")


def _words() -> dict[str, tuple[Quantity, ...]]:
    table: dict[str, list[Quantity]] = {}
    named = [(word, each) for each in READ for word in (each.name, *each.aliases)]
    for word, quantity in (*named, *((each.symbol, each) for each in READ)):
        known = table.setdefault(squeeze(word), [])
        if quantity not in known:
            known.append(quantity)
    return {word: tuple(known) for word, known in table.items()}


_WORDS = _words()
_LETTERS = {
    word for each in UNITS for word in (each.symbol, *each.aliases) if len(word) == 1 and word.isalpha()
}
_TEXT_WORDS = {squeeze(word): name for name, words in TEXT_COLUMNS.items() for word in words}


def quantities_for(name: str, dimension: str = "") -> tuple[Quantity, ...]:
    """The quantities that a header's words can stand for, the likeliest first.

    Parameters
    ----------
    name : the words without the unit.
    dimension : the dimension of the unit where it is known; quantities of another are left out.
    """
    known = _WORDS.get(_squeezed(name), ())
    return tuple(each for each in known if not dimension or each.dimension == dimension)


def text_column_for(name: str) -> str:
    """The text column ("nozzles", "point", "time", …) that the words name; empty where they name none."""
    return POINT if name.strip() == "#" else _TEXT_WORDS.get(_squeezed(name), "")


def split_header(text: str) -> Header:
    """A header taken apart: `p_s [Pa]`, `p_s (Pa)`, `p_s / Pa`, `p_s, Pa`, `p_s in Pa`, `p_s_Pa`, `p_s Pa`.

    Square brackets always hold a unit. Elsewhere the last words are a unit only if the vocabulary has it
    (a single letter only in its own case) and the words before it name a quantity that can be given in it.
    """
    text = " ".join(text.split())
    return _split_once(text) if len(text) <= _HEADER_LIMIT else _split(text)


def _split(text: str) -> Header:
    if hit := _BRACKETS.fullmatch(text):
        return _of_fan(Header(text, hit["name"], hit["unit"].strip()))
    if (hit := _PARENTHESES.fullmatch(text)) and (is_unit(hit["unit"]) or _can_have_unit(hit["name"])):
        return _of_fan(Header(text, hit["name"], hit["unit"].strip()))
    whole = quantities_for(text)
    for name, words in _splits(text):
        if not _states_unit(words):
            continue
        header = _of_fan(Header(text, name, words))
        if header.name != name and len(words) > 1:  # "fan A" may be a fan's name
            return header
        if fitting := quantities_for(name, unit(words).dimension):
            # "t_s" may be cut (a time in s), "t_d" not (a dry-bulb temperature, not a time in days).
            if whole and not set(fitting) & set(whole):
                continue
            return Header(text, name, words)
        if whole and {each.dimension for each in whole} == {unit(words).dimension}:
            return Header(text, text, words)  # "Load V" is a name that tells its unit
    if _is_known(text):
        # "rpm" as a header names the quantity and the unit at once; "f" is a frequency, and no °F.
        return Header(
            text, text, text if is_unit(text) and quantities_for(text, unit(text).dimension) else ""
        )
    if is_unit(text) and text not in {"-", "1"}:
        return Header(text, text, text)
    return Header(text, text, "")


_OF_FANS = ("speed", "voltage", "current", "power")
"""What "fan" with a unit of it means, as a column."""


def _of_fan(header: Header) -> Header:
    """`fan [rpm]` as the fan's speed: a column named "fan" holds its name only where it has no unit."""
    if text_column_for(header.name) != FAN or not is_unit(header.unit):
        return header
    dimension = unit(header.unit).dimension
    found = next(
        (each.name for each in READ if each.name in _OF_FANS and each.dimension == dimension), header.name
    )
    return Header(header.text, found, header.unit)


_split_once = lru_cache(maxsize=4096)(_split)


def _squeezed(text: str) -> str:
    return _squeeze_once(text) if len(text) <= _HEADER_LIMIT else squeeze(text)


_squeeze_once = lru_cache(maxsize=4096)(squeeze)


def _is_known(name: str) -> bool:
    return bool(quantities_for(name) or text_column_for(name))


def _can_have_unit(name: str) -> bool:
    return _is_known(name) and text_column_for(name) not in NAMES


def _states_unit(words: str) -> bool:
    """Whether words without brackets are a unit; a single letter only in its own case (F, but not f), and per cent."""
    return words in _LETTERS or words == "%" if len(words) == 1 else is_unit(words)


def _splits(text: str) -> Iterator[tuple[str, str]]:
    """Every way to cut a header in two, the longest second part first."""
    for hit in _SEPARATOR.finditer(text[:_HEADER_LIMIT]):
        name, words = text[: hit.start()], text[hit.end() :]
        if name.strip() and words.strip():
            yield name.strip(), words.strip()
