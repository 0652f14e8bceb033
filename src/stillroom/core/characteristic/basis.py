"""Cubic B-splines on evenly spaced knots, and the roughness penalty on their coefficients."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.arrays import Array

DEGREE = 3
ORDER = 3  # of the differences that are penalised


@dataclass(frozen=True)
class Basis:
    """A cubic B-spline basis over [low, high] with `segments` equal segments.

    Outside [low, high] a curve goes on as its tangent, so that no argument is refused; the caller flags
    what lies outside the readings.
    """

    low: float
    high: float
    segments: int

    @property
    def size(self) -> int:
        """Number of coefficients."""
        return self.segments + DEGREE

    @property
    def step(self) -> float:
        """Distance of the knots."""
        return (self.high - self.low) / self.segments

    @property
    def knots(self) -> Array:
        """The knots, three beyond each end, shape (segments + 7,)."""
        return self.low + self.step * np.arange(-DEGREE, self.segments + DEGREE + 1, dtype=np.float64)

    def values(self, x: Array) -> Array:
        """Basis functions at x, (len(x), size); de Boor, A Practical Guide to Splines (1978), ch. IX."""
        inside = np.clip(x, self.low, self.high)
        rows, place = self._spread(inside)
        u = place
        weights = np.stack(
            [(1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3], axis=1
        )
        matrix = self._fill(rows, weights / 6.0)
        beyond = x - inside
        if np.any(beyond != 0):
            matrix += beyond[:, None] * self.slopes(inside)
        return matrix

    def slopes(self, x: Array) -> Array:
        """First derivatives of the basis functions at x, shape (len(x), size)."""
        rows, u = self._spread(np.clip(x, self.low, self.high))
        weights = np.stack([-((1 - u) ** 2), 3 * u**2 - 4 * u, -3 * u**2 + 2 * u + 1, u**2], axis=1)
        return self._fill(rows, weights / (2.0 * self.step))

    def _spread(self, x: Array) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], Array]:
        place = (x - self.low) / self.step
        segment = np.clip(np.floor(place), 0, self.segments - 1)
        return segment.astype(np.intp), np.asarray(place - segment)

    def _fill(self, segment: np.ndarray[tuple[int], np.dtype[np.intp]], weights: Array) -> Array:
        matrix = np.zeros((len(segment), self.size))
        np.put_along_axis(matrix, segment[:, None] + np.arange(4), weights, axis=1)
        return matrix


def differences(size: int) -> Array:
    """The matrix of third differences of `size` coefficients, shape (size − 3, size).

    Third, not second: between settings one saddle apart, penalised second differences cut corners.
    """
    rows: Array = np.diff(np.eye(size), n=ORDER, axis=0)
    return rows
