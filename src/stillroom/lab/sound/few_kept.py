"""The last few things that were worked out, at hand while they are asked for again."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Value = TypeVar("Value")


class FewKept(Generic[Value]):
    """Things by key, the last `most` that were made: in a loop over fans, each asks for its own several times."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[Hashable, Value] = {}

    def get(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """The thing of a key, made where it isn't at hand."""
        if key not in self._kept:
            made = make()
            while len(self._kept) >= self._most:
                del self._kept[next(iter(self._kept))]
            self._kept[key] = made
        return self._kept[key]

    def clear(self) -> None:
        """Forget all."""
        self._kept.clear()
