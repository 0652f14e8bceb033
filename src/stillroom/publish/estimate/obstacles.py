"""The obstacles that a reader can choose, with their resistance in standard air and its errors."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.mounted import MeasuredObstacle
from stillroom.core.resistance import Law, Resistance, scaled
from stillroom.core.room_air import STANDARD_AIR
from stillroom.errors import StillroomError
from stillroom.lab import versions
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_obstacle, result_of
from stillroom.lab.recipes import Graph
from stillroom.lab.through import Through, through_of
from stillroom.store.lab import Lab

HERE = 0.5
"""Where in the flows read an obstacle is told by a and b that was fitted by another law [1]."""


@dataclass(frozen=True)
class Obstacle:
    """One obstacle that the air can go through.

    Parameters
    ----------
    name : as readers choose it, without its version. through : what it means in the lab.
    resistance : in standard air, None where fans were measured with it mounted.
    """

    name: str
    through: Through
    resistance: OfObstacle | None = None

    @property
    def words(self) -> str:
        """With its version, as sound is told by it too."""
        return self.through.mounted or self.through.words


@dataclass(frozen=True)
class OfObstacle:
    """A measured resistance brought to standard air.

    Parameters
    ----------
    law : its form. central : its parameters, (2,). sources, effects : shared sources and the change of the parameters
    by +1 standard deviation of each, (k, 2). own : two effects of its own readings, (2, 2).
    reach : greatest flow read [m³/s].
    """

    law: Law
    central: Array
    sources: tuple[str, ...]
    effects: Array
    own: Array
    reach: float

    @property
    def linear_quadratic(self) -> tuple[float, float]:
        """a [Pa s/m³] and b [Pa s²/m⁶]; of another law those with its drop and slope in the middle of its reach."""
        if self.law is Law.LINEAR_QUADRATIC:
            return float(self.central[0]), float(self.central[1])
        c, n = (float(each) for each in self.central)
        flow = HERE * self.reach
        exponent = min(max(n, 1.0), 2.0)
        drop = c * flow**n
        return drop / flow * (2.0 - exponent), drop / flow**2 * (exponent - 1.0)

    def relative(self, flow: float) -> Array:
        """Relative change of the drop at a flow [m³/s] by each source, (k,) [1]."""
        return np.asarray(self.effects @ weights(self.law, self.central, flow))


def weights(law: Law, central: Array, flow: float) -> Array:
    """Relative change of the drop at a flow [m³/s] over the change of each parameter, (2,)."""
    first, second = float(central[0]), float(central[1])
    if law is Law.LINEAR_QUADRATIC:
        drop = first * flow + second * flow**2
        return np.array([flow / drop, flow**2 / drop])
    return np.array([1.0 / first, np.log(flow)])


def obstacles_of(lab: Lab, book: Book, graph: Graph) -> tuple[Obstacle, ...]:
    """The obstacles of a lab by name; of each the version that a question by its bare name means."""
    return tuple(_obstacles(lab, book, graph))


def _obstacles(lab: Lab, book: Book, graph: Graph) -> Iterator[Obstacle]:
    known = {*versions.names_of(book.obstacles), *(each.obstacle for each in graph.curves if each.obstacle)}
    for name in sorted({versions.bare(each) for each in known}):
        try:
            through = through_of(book, graph, name)
            node = next(iter(through.nodes), None)
            resistance = None if node is None else _standard(_loaded(lab, node))
        except (
            StillroomError
        ):  # never measured, or two versions of which none is the latest: it can't be chosen
            continue
        yield Obstacle(name, through, resistance)


def _loaded(lab: Lab, node: CurveNode) -> MeasuredObstacle:
    return load_obstacle(lab.path, result_of(lab, node))


def _standard(measured: MeasuredObstacle) -> OfObstacle:
    """In standard air; changes of the parameters are brought over as the parameters themselves."""
    told: Resistance = measured.resistance
    ratios = STANDARD_AIR.density / measured.density, STANDARD_AIR.viscosity / measured.viscosity
    rows = np.concatenate([told.central[None, :], told.central + told.effects, told.central + _own(told)])
    moved = scaled(told.law, rows, *ratios)
    k = len(told.sources)
    return OfObstacle(
        told.law,
        moved[0],
        told.sources,
        moved[1 : 1 + k] - moved[0],
        moved[1 + k :] - moved[0],
        told.reach[1],
    )


def _own(told: Resistance) -> Array:
    """Two independent effects on the parameters that have the covariance of the obstacle's own readings, (2, 2)."""
    values, vectors = np.linalg.eigh(np.cov(told.noise, rowvar=False))
    return np.asarray((vectors * np.sqrt(np.maximum(values, 0.0))).T)
