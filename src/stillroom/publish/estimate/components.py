"""The shared sources of a laboratory brought to a few components.

What counts in a comparison is Σ(cᵢ − cⱼ)² over the sources. A rotation of the sources leaves it as it is, so a few
principal directions of all loadings stand for all sources; what is left over is told, and is some thousandths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array

COUNT = 8
"""How many components are kept at most."""


@dataclass(frozen=True)
class Components:
    """A rotation of sources.

    Parameters
    ----------
    sources : identities, (S,). directions : orthonormal, (S, C). left_over : share of all squares that they miss [1].
    """

    sources: tuple[str, ...]
    directions: Array
    left_over: float

    def of(self, sources: Sequence[str], loadings: Array) -> Array:
        """Loadings (…, k) of some sources as components (…, C)."""
        place = {name: at for at, name in enumerate(self.sources)}
        return np.asarray(loadings @ self.directions[[place[name] for name in sources]])


def components_of(loadings: Sequence[tuple[Sequence[str], Array]], count: int = COUNT) -> Components:
    """The components of all loadings: of each fan or obstacle its sources with rows of loadings (n, k)."""
    names = tuple(dict.fromkeys(name for sources, _ in loadings for name in sources))
    place = {name: at for at, name in enumerate(names)}
    rows = np.zeros((sum(len(each) for _, each in loadings), len(names)))
    at = 0
    for sources, each in loadings:
        rows[at : at + len(each), [place[name] for name in sources]] = each
        at += len(each)
    if not rows.size:
        return Components(names, np.zeros((len(names), 0)), 0.0)
    values, vectors = np.linalg.eigh(rows.T @ rows)
    order = np.argsort(values)[::-1][: min(count, len(values))]
    kept = vectors[:, order]
    kept = kept * np.where(kept[np.argmax(np.abs(kept), axis=0), np.arange(kept.shape[1])] < 0.0, -1.0, 1.0)
    total = float(np.maximum(values, 0.0).sum())
    missed = 1.0 - float(np.maximum(values[order], 0.0).sum()) / total if total > 0.0 else 0.0
    return Components(names, kept, missed)
