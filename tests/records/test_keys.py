from __future__ import annotations

import enum
import hashlib
import random
import subprocess
import sys
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.records.keys import LENGTH, canonical, key_of

JSON = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False), st.text(max_size=5)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=4), inner, max_size=4)
    ),
    max_leaves=12,
)


class Colour(enum.Enum):
    RED = "red"


@dataclass(frozen=True)
class Pair:
    a: float
    b: tuple[str, ...]


def test_floats_are_hashed_by_their_hexadecimal_form() -> None:
    assert canonical(0.1) == "0x1.999999999999ap-4"
    assert canonical([0.1, {"x": 1.5}]) == ["0x1.999999999999ap-4", {"x": "0x1.8000000000000p+0"}]
    assert canonical(np.float64(0.1)) == canonical(0.1)


def test_a_key_is_that_of_its_canonical_text() -> None:
    """Worked out by hand from what the module says: JSON of [what, parts], SHA-256, 24 digits."""
    text = '["run",["abc",["0x1.0000000000000p-1",null,true,3],{"a":"ü","b":"red"}]]'
    expected = hashlib.sha256(text.encode()).hexdigest()[:24]
    assert key_of("run", "abc", (0.5, None, True, 3), {"b": Colour.RED, "a": "ü"}) == expected
    assert len(expected) == LENGTH


@given(st.floats(min_value=-1e300, max_value=1e300))
def test_the_least_change_of_a_number_is_another_key(value: float) -> None:
    assert key_of("x", value) != key_of("x", np.nextafter(value, np.inf).item())


@given(st.dictionaries(st.text(max_size=4), JSON, min_size=2, max_size=6), st.randoms())
def test_the_order_of_a_mapping_does_not_count_and_that_of_a_list_does(
    told: dict[str, Any], draw: random.Random
) -> None:
    items = list(told.items())
    draw.shuffle(items)
    assert key_of("x", dict(items)) == key_of("x", told)
    assert key_of("x", ["a", "b"]) != key_of("x", ["b", "a"])


@given(JSON)
def test_canonical_twice_is_canonical(value: Any) -> None:
    assert canonical(canonical(value)) == canonical(value)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("x", "ab"), ("x", "a", "b")),
        (("x", ["a"], "b"), ("x", ["a", "b"])),
        (("x", 1), ("x", "1")),
        (("x", 1), ("x", 1.0)),
        (("x", True), ("x", 1)),
        (("x", None), ("x", "")),
        (("x", 0.0), ("x", -0.0)),
        (("x", "a"), ("y", "a")),
        (("x", Pair(1.0, ("a",))), ("x", Pair(1.0, ("b",)))),
    ],
)
def test_different_things_have_different_keys(one: tuple[Any, ...], other: tuple[Any, ...]) -> None:
    assert key_of(*one) != key_of(*other)


@pytest.mark.parametrize("value", [{1, 2}, b"x", object(), np.arange(3), Pair])
def test_what_has_no_canonical_form_is_refused(value: object) -> None:
    with pytest.raises(TypeError):
        key_of("x", value)


def test_a_key_is_the_same_in_another_process_with_another_hash_seed() -> None:
    code = "from stillroom.records.keys import key_of; print(key_of('x', {'b': 1, 'a': 0.1, 'c': [None]}))"
    found = {
        subprocess.run(
            [sys.executable, "-c", code], env=_environment(seed), capture_output=True, text=True, check=True
        ).stdout.strip()
        for seed in ("0", "1", "77")
    }
    assert found == {key_of("x", {"a": 0.1, "b": 1, "c": [None]})}


def _environment(seed: str) -> dict[str, str]:
    return {"PYTHONHASHSEED": seed, "PYTHONPATH": ":".join(sys.path)}
