"""Alt texts of the pictures of heat and of speed control: what, range, and what must be told."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom import wording


def settling_alt(what: str, steps: Sequence[tuple[str, str]]) -> str:
    """Of a run against time.

    Parameters
    ----------
    what : whose, at which power and where. steps : (setting, its value and when it was steady).
    """
    parts = [
        f"Temperature rise over the air going in against time, {what}: {wording.plural(len(steps), 'setting')}"
    ]
    parts += [f"{setting}: {said}" for setting, said in steps]
    return " ".join(wording.stopped(each) for each in parts)


def agreement_alt(what: str, steps: int, fans: int, spread: str, apart: Sequence[str]) -> str:
    """Of predicted against measured.

    Parameters
    ----------
    what : of which rig. spread : how far steps lie from what is predicted. apart : those that disagree, with the rig.
    """
    parts = [
        f"Temperature rise {what}, predicted from airflow against measured: {wording.plural(steps, 'step')} of "
        f"{wording.plural(fans, 'fan')}",
        spread,
        f"disagreeing: {'; '.join(apart)}" if apart else "none disagrees",
    ]
    return " ".join(wording.sentence(each) for each in parts if each)


def response_alt(what: str, reach: str, marks: Sequence[str]) -> str:
    """Of speed against drive.

    Parameters
    ----------
    what : whose, over which drive. reach : from which to which speed. marks : start, stop, lowest, wire open.
    """
    parts = [f"Speed against {what}, {reach}", *marks]
    return " ".join(wording.stopped(each) for each in parts)
