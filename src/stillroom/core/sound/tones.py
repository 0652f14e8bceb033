"""Discrete tones in a narrow-band spectrum, and whether they are prominent."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.arrays import Array


@dataclass(frozen=True)
class Tone:
    """One discrete tone.

    Parameters
    ----------
    frequency : its frequency [Hz].
    level : level of the tone alone [dB], with the reference of the spectrum.
    tone_to_noise : tone-to-noise ratio [dB].
    prominence_ratio : prominence ratio [dB].
    tnr_criterion, pr_criterion : from where on each of the two makes a tone prominent [dB].
    prominent : whether it is, by at least one of the two.
    by : by which ("tone-to-noise ratio", "prominence ratio").
    """

    frequency: float
    level: float
    tone_to_noise: float
    prominence_ratio: float
    tnr_criterion: float
    pr_criterion: float
    prominent: bool
    by: tuple[str, ...]


def tones(spectrum: Array, resolution: float, noise_bandwidth: float) -> tuple[Tone, ...]:
    """Every discrete tone of a spectrum from 89.1 Hz to 11.22 kHz, in rising frequency."""
    raise NotImplementedError
