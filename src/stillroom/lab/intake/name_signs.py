"""What a file's name gives away beside what is told of it: a setting with its sign, the name of a fan.

It is never believed; it is only held against what the file itself says.
"""

from __future__ import annotations

import re
from collections.abc import Collection

from stillroom.errors import StillroomError
from stillroom.lab.intake.told_settings import setting_in_si
from stillroom.readers.paths.names import without_suffix

_NUMBER = r"(?P<value>\d{1,3}(?:[.,]\d+)?)"
_SIGNS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("duty", re.compile(rf"{_NUMBER}\s?(?:pct|%|percent)", re.I)),
    ("duty", re.compile(rf"(?:pwm|duty)[-= ]?{_NUMBER}(?:pct|%)?", re.I)),
    ("volts", re.compile(rf"{_NUMBER}\s?(?:v|volts?)", re.I)),
    ("speed", re.compile(r"(?P<value>\d{3,6})\s?rpm", re.I)),
)
_COARSE_TOKENS = re.compile(r"[/_]+")
_TOKENS = re.compile(r"[/_ ]+")
_FINE_TOKENS = re.compile(r"[/_ \-]+")
_SHORTEST = 3


def settings_in(name: str) -> dict[str, str]:
    """The settings that a path gives away by their sign ("60pct", "pwm60", "7V", "1500rpm"), in SI as text.

    A kind of setting for which two values stand there is left out.
    """
    path = without_suffix(name)
    found: dict[str, set[float]] = {}
    for token in {token for one in (_COARSE_TOKENS, _TOKENS, _FINE_TOKENS) for token in one.split(path)}:
        for kind, sign in _SIGNS:
            if hit := sign.fullmatch(token):
                try:
                    found.setdefault(kind, set()).add(setting_in_si(kind, hit["value"], name))
                except StillroomError:
                    continue  # no setting that anybody can mean
    return {kind: repr(next(iter(values))) for kind, values in found.items() if len(values) == 1}


def other_fan_in(name: str, fan: str, known: Collection[str]) -> str:
    """A known fan that a path names although the file is said to be of another; "" where there is none.

    Parameters
    ----------
    fan : which the file is said to be of. known : the names of fans.
    """
    path = _plain(without_suffix(name))
    own = _plain(fan)
    if f" {own} " in f" {path} ":
        return ""
    for each in known:
        word = _plain(each)
        nested = word in own or own in word
        if len(word) >= _SHORTEST and not word.isdigit() and not nested and f" {word} " in f" {path} ":
            return each
    return ""


def _plain(text: str) -> str:
    return " ".join(part for part in _FINE_TOKENS.split(text.casefold()) if part)
