"""What a recording is, and the limits within which it can be used."""

from __future__ import annotations

from dataclasses import dataclass, field

from stillroom.errors import UnreadableFile

RATES = (44_100, 192_000)
"""Lowest and highest rate that is read [Hz]: class 1 bands up to 20 kHz need the lower one."""

MOST_CHANNELS = 64
"""Most channels of a recording."""

DEPTHS = (16, 24, 32)
"""Bits of a sample as whole numbers."""

EXPECTED = "a WAV file (PCM of 16, 24 or 32 bits, or float) or a FLAC file, of 44.1 to 192 kHz"


@dataclass(frozen=True)
class AudioFormat:
    """What a recording is, as its header tells it.

    Parameters
    ----------
    rate : samples a second [Hz]. channels : how many. frames : samples of each channel.
    subtype : how a sample is kept ("PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE").
    container : "WAV", "RF64" or "FLAC". recorded : when it began, in ISO 8601 (date, or date and time), where the
    file tells it; else None. begins : where the samples begin in a WAV file [bytes]; None in others.
    """

    rate: int
    channels: int
    frames: int
    subtype: str
    container: str
    recorded: str | None
    begins: int | None = field(default=None, compare=False)

    @property
    def length(self) -> float:
        """Length [s]."""
        return self.frames / self.rate


def refused(place: str, found: str, expected: str = EXPECTED, *, thing: str = "recording") -> UnreadableFile:
    """The error for a recording that can't be used."""
    return UnreadableFile(thing, place=place, found=found, expected=expected)


def cut(place: str, found: str) -> UnreadableFile:
    """The error for a recording that ends too early."""
    return refused(place, found, "the whole file: copy it again, or close the recording before it is copied")


def check_format(place: str, rate: int, channels: int, frames: int) -> None:
    """Refuse what a header may tell but can't be used.

    Raises
    ------
    UnreadableFile : the rate, the channels or the length can't be used.
    """
    if not RATES[0] <= rate <= RATES[1]:
        raise refused(
            place,
            f"{rate:,} samples a second",
            f"{RATES[0]:,} to {RATES[1]:,}",
            thing="rate of a recording",
        )
    if not 1 <= channels <= MOST_CHANNELS:
        raise refused(place, f"{channels} channels", f"1 to {MOST_CHANNELS}")
    if frames < 1:
        raise refused(place, "not one sample", "a recording that has a length")
