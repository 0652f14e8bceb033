"""Excerpts as files: sound, the tone by which playback is set, and the text that says what each of them is."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence

import numpy as np
import soundfile

from stillroom.core.arrays import Array
from stillroom.core.sound.excerpt import faded
from stillroom.errors import NotPossible
from stillroom.lab.pictures.picture_words import plain_name
from stillroom.lab.sound.excerpts import Excerpt, Excerpts
from stillroom.lab.sound.level_words import at_distance, speed_in_words

REFERENCE_BELOW = 20.0
"""The reference tone lies so far below the level of full scale [dB]."""

REFERENCE_SECONDS, REFERENCE_FREQUENCY, REFERENCE_RATE = 10.0, 1000.0, 48_000


def wave_of(each: Excerpt, scale: float) -> bytes:
    """An excerpt as a WAV file of 24 bits, at its recording's own rate."""
    return _wave(each.samples * 10.0 ** (-scale / 20.0), each.rate)


def reference_tone(level: float, scale: float) -> bytes:
    """A tone of 1 kHz at a level on the same scale, by which the playback is set, as a WAV file of 24 bits."""
    time = np.arange(round(REFERENCE_SECONDS * REFERENCE_RATE)) / REFERENCE_RATE
    amplitude = math.sqrt(2.0) * 10.0 ** ((level - scale) / 20.0)
    tone = (amplitude * np.sin(2.0 * np.pi * REFERENCE_FREQUENCY * time)).astype(np.float32)
    return _wave(faded(tone, REFERENCE_RATE), REFERENCE_RATE)


def _wave(samples: Array, rate: int) -> bytes:
    if float(np.abs(samples).max()) >= 1.0:
        raise NotPossible("excerpt", found="samples beyond full scale", expected="a scale that holds them")
    written = io.BytesIO()
    soundfile.write(written, samples, rate, format="WAV", subtype="PCM_24")
    return written.getvalue()


def file_names(found: Sequence[Excerpt]) -> Mapping[str, Excerpt]:
    """A name of a file for each: its number, fan, speed, level and distance."""
    return {f"{i}-{plain_name(each.fan)}-{_numbers(each)}.wav": each for i, each in enumerate(found, start=1)}


def _numbers(each: Excerpt) -> str:
    distance = each.geometry.distance
    at = "" if distance is None else f"-{distance:g}m"
    return f"{each.speed * 60:.0f}rpm-{each.played:.1f}dba{at}"


def reference_level(every: Excerpts) -> float:
    """Level of the reference tone [dB]."""
    return every.scale - REFERENCE_BELOW


def described(every: Excerpts) -> str:
    """The text that lies beside the files: what each is, and how the playback is set."""
    place = at_distance(every.found[0].geometry)
    pressure, reference = 20e-6 * 10.0 ** (every.scale / 20.0), reference_level(every)
    lines = [
        f"Excerpts of recordings; levels are A-weighted, {place}.",
        "",
        f"One scale for all: a sample of full scale is {pressure:.4g} Pa (a mean square of full scale is"
        f" {every.scale:g} dB re 20 µPa).",
        f"Set the playback so that reference-tone.wav (1 kHz) reads {reference:g} dB where you listen: then"
        " each excerpt is as loud as it says.",
        "",
    ]
    for name, each in file_names(every.found).items():
        lines += [name, *(f"    {line}" for line in _lines_of(each)), ""]
    lines += [f"No excerpt of {fan}: {why}" for fan, why in every.left_out]
    return "\n".join(lines).rstrip() + "\n"


def _lines_of(each: Excerpt) -> list[str]:
    at = f"{at_distance(each.geometry)}"
    alone = f"{'at most ' if each.is_bound else ''}{each.corrected:.1f} dBA {at}"
    true = "its true level" if not each.shift else f"moved by {each.shift:+.1f} dB from {each.level:.1f} dBA"
    lines = [
        f"fan: {each.fan}, {f'behind {each.obstacle}' if each.obstacle else 'in free air'}",
        f"asked for: {each.asked}",
        f"speed: {speed_in_words(each.speed)}",
        f"level as written: {each.played:.1f} dBA {at}, the room included ({true})",
        f"level of the fan alone: {alone}",
        f"from: {each.file}, {each.start:g} to {each.start + each.length:g} s, run {each.run}",
        f"key: {each.key[:10]}",
    ]
    return [*lines, *((f"note: {', '.join(each.marks)}",) if each.marks else ())]
