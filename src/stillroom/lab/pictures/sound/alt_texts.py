"""Alt texts of the pictures of sound: what, range, and what must be told."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom import wording


def levels_alt(what: str, fans: Sequence[tuple[str, str]], limits: Sequence[str]) -> str:
    """Of level against speed.

    Parameters
    ----------
    what : where it holds ("at 0.5 m in free air"). fans : (fan, from which to which level, and what to avoid).
    limits : how one fan meets each limit.
    """
    parts = [f"Level against speed {what}, {wording.plural(len(fans), 'fan')}"]
    parts += [f"{wording.isolate(fan)}: {said}" for fan, said in fans]
    parts += [f"limits: {'; '.join(limits)}"] if limits else []
    return " ".join(wording.stopped(each) for each in parts)


def spectrum_alt(what: str, loudest: tuple[str, str], bounds: int, tones: Sequence[str]) -> str:
    """Of a spectrum.

    Parameters
    ----------
    what : whose, at which speed and where. loudest : (its band, its level). bounds : how many bands are bounds.
    tones : the prominent ones.
    """
    parts = [f"One-third-octave levels of {what}", f"the loudest band is {loudest[0]} with {loudest[1]}"]
    parts += [f"{wording.plural(bounds, 'band')} at most, too near the background"] if bounds else []
    parts.append(f"prominent: {wording.listed(tones)}" if tones else "no prominent tone")
    return " ".join(wording.sentence(each) for each in parts)


def ramp_alt(what: str, reach: str, orders: Sequence[str], avoid: Sequence[str]) -> str:
    """Of a spectrogram over a ramp.

    Parameters
    ----------
    what : whose and where. reach : from which to which speed. orders : named ones. avoid : bands of speed.
    """
    parts = [
        f"Spectrogram of a ramp of {what}, {reach}, frequency upwards, the louder the stronger the colour"
    ]
    parts += [f"lines that are named: {wording.listed(orders)}"] if orders else []
    parts.append(f"to avoid: {wording.listed(avoid)}" if avoid else "no band of speed to avoid")
    return " ".join(wording.sentence(each) for each in parts)


def trade_alt(quantity: str, what: str, fans: Sequence[tuple[str, Sequence[str]]]) -> str:
    """Of a quantity against noise.

    Parameters
    ----------
    what : through what and where. fans : (fan, its value at each limit).
    """
    parts = [f"{wording.sentence(quantity).rstrip('.')} {what}, {wording.plural(len(fans), 'fan')}"]
    parts += [
        f"{wording.isolate(fan)}: {'; '.join(said) or 'no limit within its speeds'}" for fan, said in fans
    ]
    return " ".join(wording.stopped(each) for each in parts)
