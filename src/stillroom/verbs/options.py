"""The options of a verb, from its signature and docstring: the command line and its page are made from them."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from dataclasses import dataclass, is_dataclass
from typing import Any

FILLED_IN = {"progress", "ask", "say", "panel"}
"""Parameters that a door fills in itself."""


@dataclass(frozen=True)
class Option:
    """One thing that a verb may be told: its parameter, with the type itself as annotation, and what it means."""

    parameter: inspect.Parameter
    meaning: str

    @property
    def written(self) -> str:
        """As it stands on the command line: --push-pull for push_pull, --as for as_; PATH for what needs no option."""
        name = self.parameter.name.rstrip("_").replace("_", "-")
        return f"--{name}" if self.parameter.kind is inspect.Parameter.KEYWORD_ONLY else name.upper()


def options_of(verb: Callable[..., object]) -> tuple[Option, ...]:
    """The options of a verb in order; a record among its parameters stands for its fields, one option each."""
    meanings = _meanings(verb)
    found: list[Option] = []
    for each in _parameters(verb):
        if each.name in FILLED_IN:
            continue
        record = _record(each)
        if record is None:
            found.append(Option(each, meanings[each.name]))
            continue
        of_record = _meanings(record)
        found += (
            Option(one.replace(kind=inspect.Parameter.KEYWORD_ONLY), of_record[one.name])
            for one in _parameters(record)
        )
    return tuple(found)


def with_records(verb: Callable[..., object], told: dict[str, Any]) -> dict[str, Any]:
    """What was told to the options, as the verb takes it: fields of a record put together again."""
    left = dict(told)
    for each in _parameters(verb):
        record = _record(each)
        if record is not None:
            names = [one.name for one in _parameters(record) if one.name in left]
            left[each.name] = record(**{name: left.pop(name) for name in names})
    return left


def _record(each: inspect.Parameter) -> type | None:
    """The record whose fields are options, where the parameter is one."""
    kind = each.annotation
    return kind if isinstance(kind, type) and is_dataclass(kind) else None


def _parameters(told: Callable[..., object]) -> list[inspect.Parameter]:
    return list(inspect.signature(told, eval_str=True).parameters.values())


def _meanings(told: Callable[..., object]) -> dict[str, str]:
    """What each parameter means, from the docstring."""
    _, _, text = (inspect.getdoc(told) or "").partition("----------\n")
    found = re.findall(r"^(\w+) : (.*(?:\n    .*)*)", text, flags=re.MULTILINE)
    return {name: " ".join(words.split()) for name, words in found}
