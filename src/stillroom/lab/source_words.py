"""Sources of error in plain words, from the identities by which they are shared."""

from __future__ import annotations

import re

from stillroom.vocabulary import BY_NAME

_INSTRUMENT = re.compile(r"instrument/(?P<name>.*)/(?P<kind>gain|offset|linearity)(?:/(?P<low>[^/]+))?")
_NOZZLE = re.compile(r"nozzle/(?P<name>.*)/bore")
_KINDS = {
    "gain": "in proportion to the reading",
    "offset": "the same at every reading",
    "linearity": "of its range",
}
_UNRECORDED = "unrecorded air"


def _microphone(name: str) -> str:
    chain, _, what = name.rpartition("/")
    by = f"microphone {chain}" if chain else "the microphone"
    return {"level": f"the level of {by}, not calibrated that day", "response": f"the response of {by}"}.get(
        what, f"microphone {name}"
    )


def _day(name: str) -> str:
    rig, _, rest = name.partition("/")
    return f"the day {rest.removesuffix('/sound')}" + (f" on {rig}" if rig else "")


def _place(name: str) -> str:
    rig, _, place = name.partition("/")
    return f"the place of the microphone ({place})" + (f" on {rig}" if rig else "")


def _calibration(name: str) -> str:
    rig, date, *_ = (*name.split("/"), "")
    return f"the readings of the calibrator on {date}" + (f" on {rig}" if rig else "")


def _probe(name: str) -> str:
    rig, _, which = name.rpartition("/")
    probe = {"hot": "the hot probe", "air": "the probes of the air going in"}.get(which, f"probe {which}")
    return f"the offset of {probe}" + (f" on {rig}" if rig else "")


def _coolant(name: str) -> str:
    rig, _, era = name.rpartition("/")
    filling = "" if era == "untold filling" else f" since {era}"
    return f"the flow of the coolant{filling}" + (f" on {rig}" if rig else "")


_SHARED = {
    "calibrator": lambda name: f"the level of the calibrator{f' {name}' if name else ''}",
    "calibration": _calibration,
    "microphone": _microphone,
    "day": _day,
    "place": _place,
    "probe": _probe,
    "heater": lambda name: "the electric heat" + (f" by {name}" if name else ""),
    "coolant": _coolant,
}
"""Sources that levels, or temperature rises, share, by the first word of their identity."""


def source_in_words(identity: str) -> str:
    """A source of error, as somebody would say it who looks for what to measure better.

    Parameters
    ----------
    identity : such as "instrument/flow-2/gain", "nozzle/N40/bore", "mounting/Sedge-s1-1", or "readings".
    """
    if hit := _INSTRUMENT.fullmatch(identity):
        where = f" from {hit['low']} (SI) up" if hit["low"] else ""
        return f"{_instrument(hit['name'])}, {_KINDS[hit['kind']]}{where}"
    if hit := _NOZZLE.fullmatch(identity):
        return f"the bore of nozzle {hit['name']}"
    kind, slash, name = identity.partition("/")
    if kind in _SHARED:
        return _SHARED[kind](name)
    told = {
        "readings": "the scatter of the readings",
        "mounting": f"how {name} was mounted",
        "sample": f"sample {name} standing for all of its kind",
        "formula": f"the formula of the {name}",
        "legacy": f"the legacy number {name}",
        "limit": f"the sound of {name} itself: its mountings, samples and readings",
    }
    return told.get(kind, f"{kind}: {name.replace('/', ', ')}" if slash else identity)


def _instrument(name: str) -> str:
    """An instrument, or the stated accuracy of a bench where no instrument is named for a quantity."""
    rig, slash, quantity = name.rpartition("/")
    if slash and quantity in BY_NAME:
        return f"the accuracy of {BY_NAME[quantity].label.lower()} on {rig or 'the bench'}"
    return "air that was not recorded" if name == _UNRECORDED else f"instrument {name}"
