"""What a lab decides for its releases: the table [publish] of lab.toml."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

from stillroom.errors import BadInput


@dataclass(frozen=True)
class PublishSettings:
    """What a release holds, where the lab decides it.

    Parameters
    ----------
    measures : to publish, each as a line of words such as "airflow through rad27 at 35 dBA"; empty: those that a round
    registered, else the usual ones. reveal : whether frames for video are made of each chart of bars.
    excerpts : whether level-matched sounds are published. licence : of the open data, as its short name; "" for none.
    """

    measures: tuple[str, ...] = ()
    reveal: bool = True
    excerpts: bool = False
    licence: str = ""


Wrong = Callable[[str, object, str], BadInput]


def publish_settings(table: dict[str, Any], wrong: Wrong) -> PublishSettings:
    """The settings of a table; `wrong` makes the error of a key, what was found and what would be right.

    Raises
    ------
    BadInput : a setting that isn't known, or has a wrong value.
    """
    kinds: dict[str, tuple[Callable[[object], bool], str]] = {
        "measures": (_is_lines, 'a list of lines such as ["airflow through rad27 at 35 dBA"], each once'),
        "reveal": (_is_choice, "true or false"),
        "excerpts": (_is_choice, "true or false"),
        "licence": (_is_text, 'the short name of a licence, such as "CC-BY-4.0"'),
    }
    names = [each.name for each in fields(PublishSettings)]
    for name, value in table.items():
        if name not in names:
            close = difflib.get_close_matches(name, names, n=1)
            raise wrong(f"publish.{name}", value, close[0] if close else ", ".join(names))
        is_right, expected = kinds[name]
        if not is_right(value):
            raise wrong(f"publish.{name}", value, expected)
    return PublishSettings(**(table | {"measures": tuple(table.get("measures", ()))}))


def _is_lines(value: object) -> bool:
    return isinstance(value, list) and all(map(_is_text, value)) and len(set(map(str, value))) == len(value)


def _is_choice(value: object) -> bool:
    return isinstance(value, bool)


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip()) and value.isprintable() and len(value) <= 200
