"""What the air goes through, from the words of --through: obstacles by name, stacks, resistances by a law.

rad27            the latest version that was measured        rad27@2      version 2
rad27+mesh       one behind the other: drops add             rad27 beside mesh     side by side: flows add
20 Pa at 60 m³/h     Δp = kQ² through that point             0.085 Q + 0.00115 Q²  Δp [Pa], Q in m³/h
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from stillroom.core.systems import Load, Stack, StatedResistance
from stillroom.errors import BadInput, NotPossible, UnknownThing
from stillroom.lab import versions
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_obstacle
from stillroom.lab.recipes import Graph
from stillroom.store.results import Result
from stillroom.vocabulary import is_unit, unit

HOUR = 3600.0
_NUMBER = r"([0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]+)?)"
_BESIDE = re.compile(r"\s+beside\s+")
_BEHIND = re.compile(r"(?<![0-9][eE])\+")
_LAW = re.compile(rf"{_NUMBER}\s*[·*]?\s*Q\s*(²|\^2|2)?")
_POINT = re.compile(rf"{_NUMBER}\s*(\S*)\s+at\s+{_NUMBER}\s*(.*)")

Term = CurveNode | StatedResistance


@dataclass(frozen=True)
class Through:
    """What was asked for, found in the lab.

    Parameters
    ----------
    words : in words, with the versions. stacks : side by side, each of terms behind each other; empty where
    nothing was asked for, or where fans were measured with the obstacle `mounted`.
    """

    words: str = ""
    stacks: tuple[tuple[Term, ...], ...] = ()
    mounted: str = ""

    @property
    def terms(self) -> tuple[Term, ...]:
        """All terms."""
        return tuple(term for stack in self.stacks for term in stack)

    @property
    def nodes(self) -> tuple[CurveNode, ...]:
        """The measured obstacles, each once."""
        return tuple({each.key: each for each in self.terms if isinstance(each, CurveNode)}.values())

    @property
    def key(self) -> list[list[object]]:
        """What a value hangs on."""
        return [
            [t.key if isinstance(t, CurveNode) else (t.linear, t.quadratic) for t in stack]
            for stack in self.stacks
        ]

    @property
    def marks(self) -> tuple[str, ...]:
        """What was modelled, because pieces that were measured alone are put together."""
        if len(self.terms) < 2:
            return ()
        how = "side by side" if len(self.stacks) > 1 else "behind each other"
        return (f"modelled for obstacles {how}",)


def through_of(book: Book, graph: Graph, text: str) -> Through:
    """What the words of --through mean in a lab.

    Raises
    ------
    UnknownThing : a name that isn't an obstacle of the lab. NotPossible : an obstacle that was never measured.
    BadInput : a law or a point that can't be read.
    """
    if not text.strip():
        return Through()
    known = versions.names_of(book.obstacles) + [each.obstacle for each in graph.curves if each.obstacle]
    if text.strip() in known:  # a name may hold a plus
        return _named(graph, text.strip(), known, alone=True)
    sides = [_BEHIND.split(each) for each in _BESIDE.split(text)]
    alone = len(sides) == 1 and len(sides[0]) == 1
    found = [[_term(graph, word.strip(), known, text, alone=alone) for word in side] for side in sides]
    if alone:
        return found[0][0]
    stacks = tuple(_joined(tuple(term for each in side for term in each.terms)) for side in found)
    words = " beside ".join(" + ".join(_words(term) for term in stack) for stack in stacks)
    return Through(words, stacks)


def _words(term: Term) -> str:
    return term.subject if isinstance(term, CurveNode) else term.words


def _joined(terms: tuple[Term, ...]) -> tuple[Term, ...]:
    """Terms behind each other, the parts of one law taken as one resistance."""
    stated = [each for each in terms if isinstance(each, StatedResistance)]
    if len(stated) < 2:
        return terms
    whole = StatedResistance(
        " + ".join(each.words for each in stated),
        sum(each.linear for each in stated),
        sum(each.quadratic for each in stated),
    )
    return (*(each for each in terms if isinstance(each, CurveNode)), whole)


def _term(graph: Graph, word: str, known: list[str], text: str, *, alone: bool) -> Through:
    if not word:
        raise BadInput(
            "--through", found=repr(text), expected="a name or a resistance on each side of a plus"
        )
    stated = stated_resistance(word)
    if stated is not None:
        return Through(stated.words, ((stated,),))
    return _named(graph, word, known, alone=alone)


def stated_resistance(word: str) -> StatedResistance | None:
    """A resistance told as a law or a point; None where the words are neither.

    Raises
    ------
    BadInput : a point whose units aren't a pressure and a flow.
    """
    hit = _LAW.fullmatch(word)
    if hit:
        value = _value(hit.group(1))
        return (
            StatedResistance(word, 0.0, value * HOUR**2)
            if hit.group(2)
            else StatedResistance(word, value * HOUR, 0.0)
        )
    hit = _POINT.fullmatch(word)
    if not hit:
        return None
    pressure = _in_si(hit.group(1), hit.group(2), "Pa", word)
    flow = _in_si(hit.group(3), hit.group(4), "m³/h", word)
    if flow <= 0.0:
        raise BadInput("--through", found=repr(word), expected="a flow above zero")
    return StatedResistance(word, 0.0, pressure / flow**2)


def _value(text: str) -> float:
    return float(text.replace(",", "."))


def _in_si(number: str, symbol: str, usual: str, word: str) -> float:
    symbol = symbol.strip() or usual
    if not is_unit(symbol) or unit(symbol).dimension != unit(usual).dimension:
        raise BadInput("--through", found=repr(word), expected="such as '20 Pa at 60 m³/h'")
    return _value(number) * unit(symbol).factor


def _named(graph: Graph, name: str, known: list[str], *, alone: bool) -> Through:
    """One obstacle: its own resistance, or fans that were measured with it mounted."""
    if name not in known and name not in map(versions.bare, known):
        names = sorted(dict.fromkeys(versions.bare(each) for each in known))
        raise UnknownThing("obstacle", found=repr(name), expected=", ".join(names) or "none is there")
    if several := graph.undecided_versions(name):
        numbers = " and ".join(each.partition(versions.AT)[2] for each in several)
        raise BadInput(
            f"obstacle {name}",
            found=f"versions {numbers}, none with a later date or arrival than another",
            expected=f"one by its name: {' or '.join(several)}",
        )
    node = graph.obstacle(name)
    if node is not None:
        return Through(node.subject, ((node,),))
    mounted = graph.mounted_obstacle(name)
    if mounted and alone:
        return Through(mounted, (), mounted)
    raise NotPossible(f"obstacle {name}", found="no run of it", expected="its pressure drop against flow")


def load_of(lab: Path, through: Through, results: dict[str, Result]) -> Load | None:
    """What the air goes through as it is reckoned with, from the results of its obstacles by key; None for nothing."""
    loaded = {key: load_obstacle(lab, each) for key, each in results.items()}
    stacks: tuple[Stack, ...] = tuple(
        tuple(loaded[term.key] if isinstance(term, CurveNode) else term for term in stack)
        for stack in through.stacks
    )
    return Load(stacks) if stacks else None
