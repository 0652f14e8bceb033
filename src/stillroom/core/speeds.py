"""The speed of a fan against φ at each setting that was tested, and between settings.

The speed at an operating point is measured: a fan at one duty or voltage slows down as it is loaded. Between
two tested settings the speed is interpolated at equal φ; outside those tested nothing is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.characteristic.curve import align
from stillroom.core.draws import normal_block, normal_draws
from stillroom.core.monotone_cubic import monotone_cubic
from stillroom.errors import NotPossible

TERMS = 3
SAME = 1e-3
"""Settings this close, relatively, are one setting."""

BETWEEN, BETWEEN_TWO = 0.02, 0.04
"""Standard uncertainty of a speed midway between two settings, of the gap between their speeds [1] (our choice), and
where only two were tested, so that nothing shows how the course bends; what other courses would say comes on top.
"""

WORDS = {"duty": (100.0, " %"), "volts": (1.0, " V")}


def setting_words(kind: str, value: float) -> str:
    """A duty or voltage in words: "40 %", "7 V"."""
    factor, unit = WORDS[kind]
    return f"{value * factor:.4g}{unit}"


def setting_named(kind: str, value: float) -> str:
    """A duty or voltage with its name: "duty 40 %", "voltage 7 V"."""
    return f"{'voltage' if kind == 'volts' else kind} {setting_words(kind, value)}"


@dataclass(frozen=True)
class SettingSpeeds:
    """n(φ) = c₀ + c₁φ + c₂φ² of each tested setting of one kind.

    Parameters
    ----------
    kind : "duty" or "volts". values : the settings, rising, (S,) [1] or [V].
    central : coefficients [1/s], (S, 3). effects : of +1 standard deviation of each source, (S, k, 3).
    spread : lower triangular factor of the covariance by the mounting's own errors, (S, 3, 3).
    sources : identities of the k shared sources. identity : of the mounting.
    """

    kind: str
    values: Array
    central: Array
    effects: Array
    spread: Array
    sources: tuple[str, ...]
    identity: str

    def words(self, value: float) -> str:
        """What must be said of the speed at a setting: "" where it was tested.

        Raises
        ------
        NotPossible : the setting lies outside those tested.
        """
        below, above = self._neighbours(value)
        if below == above:
            return ""
        lower, upper = (setting_words(self.kind, float(self.values[i])) for i in (below, above))
        return f"interpolated between {lower} and {upper}"

    def speeds(
        self, value: float, phi: Array, part: Part, sources: tuple[str, ...], trials: int, seed: int
    ) -> Array:
        """Speed at a setting as a row stack (1 + k + M, g) [1/s] at abscissas φ (g,).

        Between two settings the central speed is a monotone cubic (PCHIP, Fritsch & Carlson 1980) over all
        settings at equal φ; deviations by errors are shared out between the neighbours by distance, and the
        interpolation's own uncertainty is added to the trials. It reaches as far as a course that bends to one
        side can: to the straight line, and to the lines through the settings next to these two (a fan that
        stands at its least speed up to some duty between them has such a kink).

        Raises
        ------
        NotPossible : the setting lies outside those tested.
        """
        below, above = self._neighbours(value)
        design = np.stack([np.ones_like(phi), phi, phi**2])
        if below == above:
            return np.asarray(self._rows(below, part, sources, trials, seed) @ design)
        low, high = self.central[below] @ design, self.central[above] @ design
        share = float((value - self.values[below]) / (self.values[above] - self.values[below]))
        straight = low + share * (high - low)
        curved = monotone_cubic(self.values, self.central @ design, value)
        rows = (1.0 - share) * (self._rows(below, part, sources, trials, seed) @ design)
        rows += share * (self._rows(above, part, sources, trials, seed) @ design)
        rows += curved - straight
        if part is Part.TOTAL:
            usual = BETWEEN_TWO if len(self.values) == 2 else BETWEEN
            away = np.abs(self._courses(value, below, design) - curved).max(axis=0) / np.sqrt(3.0)
            u = np.hypot(away, usual * 4.0 * share * (1.0 - share) * (high - low))
            identity = (
                f"{self.identity}/speed between {self.kind} {self.values[below]:g} and {self.values[above]:g}"
            )
            rows[1 + len(sources) :] += np.multiply.outer(normal_draws(identity, trials, seed), u)
        return np.asarray(rows)

    def _courses(self, value: float, below: int, design: Array) -> Array:
        """What other courses between two settings would say: a straight line, and those that go on from beside
        them and never leave the two speeds; (1 to 3, g) [1/s].
        """
        x, y = self.values, self.central @ design
        low, high = np.minimum(y[below], y[below + 1]), np.maximum(y[below], y[below + 1])
        pairs = [(below, below + 1)]
        pairs += [(below - 1, below)] if below > 0 else []
        pairs += [(below + 1, below + 2)] if below + 2 < len(x) else []
        lines = [y[i] + (value - x[i]) / (x[j] - x[i]) * (y[j] - y[i]) for i, j in pairs]
        return np.asarray(np.clip(np.stack(lines), low, high))

    @cached_property
    def _range(self) -> str:
        first, last = (setting_words(self.kind, float(each)) for each in (self.values[0], self.values[-1]))
        return f"tested from {first} to {last}" if len(self.values) > 1 else f"tested at {first} only"

    def _neighbours(self, value: float) -> tuple[int, int]:
        """The tested settings around a value; twice the same where it was tested itself."""
        near = int(np.argmin(np.abs(self.values - value)))
        if abs(float(self.values[near]) - value) <= SAME * value:
            return near, near
        if not self.values[0] < value < self.values[-1]:
            thing = setting_named(self.kind, value)
            raise NotPossible(thing, found=self._range, expected="a setting within these")
        above = int(np.searchsorted(self.values, value))
        return above - 1, above

    def _rows(self, at: int, part: Part, sources: tuple[str, ...], trials: int, seed: int) -> Array:
        central = self.central[at]
        moved = central + align(self.effects[at], self.sources, sources)
        noise = np.repeat(central[None, :], trials, axis=0)
        for source, effect in zip(self.sources, self.effects[at], strict=True):
            if effect.any():
                noise += np.multiply.outer(normal_draws(source, trials, seed), effect)
        if part is Part.TOTAL:
            identity = f"{self.identity}/speed at {self.kind} {self.values[at]:g}"
            noise += normal_block(identity, TERMS, trials, seed).T @ self.spread[at].T
        return np.concatenate([central[None, :], moved, noise])


@dataclass(frozen=True)
class SettingReadings:
    """The speeds read at one setting, up and down sweeps together.

    Parameters
    ----------
    kind, value : the setting. phi : (n,). speed : [1/s], (n,). shared : {source: effect, (n,)}.
    own : standard deviation of each speed's own error [1/s], (n,).
    """

    kind: str
    value: float
    phi: Array
    speed: Array
    shared: dict[str, Array]
    own: Array


def fit_settings(kind: str, tested: Sequence[SettingReadings], identity: str) -> SettingSpeeds:
    """Least squares of the speed on 1, φ, φ² at each setting of one kind; own errors are raised to what the
    residuals show, as in `fit_polynomial`.
    """
    ordered = sorted(tested, key=lambda each: each.value)
    sources = tuple(dict.fromkeys(source for each in ordered for source in each.shared))
    central, effects, spread = [], [], []
    for each in ordered:
        terms = TERMS if len(each.phi) >= 5 else 1
        design = np.stack([np.ones_like(each.phi), each.phi, each.phi**2][:terms], axis=1)
        linear = np.zeros((TERMS, len(each.phi)))
        linear[:terms] = np.linalg.pinv(design)
        coefficients = linear @ each.speed
        freedom = max(1, len(each.speed) - terms)
        scatter = float(np.sqrt(np.sum((each.speed - design @ coefficients[:terms]) ** 2) / freedom))
        zero = np.zeros_like(each.phi)
        shared = (
            np.stack([each.shared.get(source, zero) for source in sources])
            if sources
            else np.zeros((0, len(zero)))
        )
        own = linear * np.maximum(each.own, scatter)
        central.append(coefficients)
        effects.append(shared @ linear.T)
        spread.append(_factor(own))
    return SettingSpeeds(
        kind,
        np.array([each.value for each in ordered]),
        np.stack(central),
        np.stack(effects),
        np.stack(spread),
        sources,
        identity,
    )


def _factor(own: Array) -> Array:
    """A square factor L of the covariance own · ownᵀ = L Lᵀ, from own errors (3, n)."""
    if own.shape[1] < TERMS:
        return np.pad(own, ((0, 0), (0, TERMS - own.shape[1])))
    return np.asarray(np.linalg.qr(own.T, mode="r"), dtype=np.float64).T
