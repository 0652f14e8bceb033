"""What the levels of a mounting share with others, by identity: calibrator, microphone, day, place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.methods.sound.scales import Scale
from stillroom.methods.sound.told import Chain, Told

RESPONSE = 0.3
"""Standard uncertainty by the response of a class 1 chain to a broad-band sound, where no accuracy is stated [dB]
(common practice; the acceptance limits of IEC 61672-1:2013, class 1, are ± 0.7 dB at 1 kHz, from memory)."""

DAY = 0.2
"""Standard uncertainty by the day: air, set-up of the room [dB] (common practice)."""

PLACE = 0.2
"""Standard uncertainty by the place of the microphone where nobody told its distance [dB]: as at 0.5 m."""

PLACED_WITHIN = 0.02
"""Half of the range within which the microphone stands [m], a rectangular distribution (common practice)."""


def shared_sources(
    points: Sequence[tuple[Told, Scale]], chain: Chain, geometry: Geometry
) -> Mapping[str, float | Array]:
    """The sources that points share with others, as changes of their levels [dB].

    Parameters
    ----------
    points : of each point, the recording that it comes from and its scale.

    Returns
    -------
    {identity: change by +1 standard deviation, one for all or (n,) for each point}.
    """
    response = RESPONSE if chain.accuracy is None else chain.accuracy / math.sqrt(3.0)
    found: dict[str, Array] = {}
    for i, (told, scale) in enumerate(points):
        own = {**scale.sources, f"day/{chain.rig}/{told.date}/sound": DAY}
        if scale.of_samples:
            own[f"microphone/{chain.name}/response"] = response
        own[f"place/{chain.rig}/{geometry.words}"] = _by_place(geometry.distance)
        for identity, u in own.items():
            found.setdefault(identity, np.zeros(len(points)))[i] = u
    return {name: float(each[0]) if np.all(each == each[0]) else each for name, each in found.items()}


def _by_place(distance: float | None) -> float:
    """Standard uncertainty by the place of the microphone [dB]: 0.2 dB at 0.5 m, 0.1 dB at 1 m (1/r law)."""
    if distance is None or distance <= 0.0:
        return PLACE
    return 20.0 * math.log10(1.0 + PLACED_WITHIN / distance) / math.sqrt(3.0)
