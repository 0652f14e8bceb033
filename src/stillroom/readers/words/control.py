"""Words in tests of the control: whether a fan started, how often of how many, cold or not, the control wire open."""

from __future__ import annotations

import re

from stillroom.errors import BadInput

OPEN = frozenset(
    {"open", "open wire", "wire open", "open circuit", "oc", "not connected", "nc", "unplugged", "no signal",
     "no pwm", "disconnected", "floating", "offen", "nicht angeschlossen", "ohne signal", "kein signal", "abgezogen",
     "ouvert", "non connecté", "non branché", "débranché", "sans signal"}
)  # fmt: skip
"""The control wire is open."""

YES = frozenset(
    {"yes", "y", "true", "1", "x", "ok", "started", "starts", "runs", "running", "ja", "j", "gestartet", "angelaufen",
     "läuft", "läuft an", "oui", "o", "vrai", "démarré", "démarre", "tourne", "✓", "✔"}
)  # fmt: skip
NO = frozenset(
    {"no", "n", "false", "0", "failed", "fail", "stalled", "stands", "not started", "no start", "nein", "falsch",
     "steht", "nicht", "nicht gestartet", "nicht angelaufen", "blockiert", "non", "faux", "échec", "arrêté",
     "pas démarré", "ne démarre pas", "✗", "✘"}
)  # fmt: skip

_COUNT = re.compile(r"(?P<started>\d{1,4})\s*(?:of|/|von|sur|out of|aus)\s*(?P<tried>\d{1,4})(?:\s+\D*)?")


def is_open(cell: str) -> bool:
    """Whether a cell says that the control wire is open."""
    return " ".join(cell.split()).casefold() in OPEN


def yes_or_no(cell: str) -> bool | None:
    """What a cell says; None where it is empty or says neither."""
    word = " ".join(cell.split()).casefold().rstrip(".!")
    return True if word in YES else False if word in NO else None


def starts_in(cell: str, attempts: str, place: str) -> tuple[int, int]:
    """How many attempts started, of how many, that a row tells.

    Parameters
    ----------
    cell : "yes", "no", "9 of 10", or a number beside that of the attempts. attempts : their number, or "".
    place : the row, for messages.

    Raises
    ------
    BadInput : words that say none of it, more starts than attempts, or no attempt.
    """
    words = " ".join(cell.split()).casefold()
    hit = _COUNT.fullmatch(words)
    tried = attempts.strip()
    if hit:
        started, of = int(hit["started"]), int(hit["tried"])
    elif tried.isdigit() and words.isdigit():
        started, of = int(words), int(tried)
    elif (said := yes_or_no(words)) is not None:
        of = int(tried) if tried.isdigit() and not said else 1
        started = int(said)
    else:
        raise BadInput(
            "start attempt", place=place, found=repr(cell[:80]), expected="yes, no, or such as '9 of 10'"
        )
    if not 0 <= started <= of or of < 1:
        raise BadInput(
            "start attempt", place=place, found=f"{started} of {of}", expected="no more starts than attempts"
        )
    return started, of
