"""What a measurement file itself says of fan, sample, mounting and obstacle, in notes and in columns."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.intake.batch import File
from stillroom.readers.grids.lines import AND
from stillroom.readers.reading.recording import Recording
from stillroom.readers.reading.sweeps import SweepPart
from stillroom.readers.words.headers import NAMES, SAMPLE

LONGEST = 100
"""Longest name that is taken from a file [characters]."""


def check_notes_agree(
    file: File, told: Mapping[str, Sequence[tuple[str, str]]], by_hand: Collection[str] = ()
) -> None:
    """Refuse notes above one table that name two fans, samples, mountings or obstacles, or no name at all.

    Parameters
    ----------
    told : {what: (key, text) of each note that tells it}. by_hand : what is told by hand, whatever notes say.

    Raises
    ------
    Contradiction : two names. BadInput : a name with signs that don't show, or far too long.
    """
    for what in (each for each in NAMES if each not in by_hand):
        texts = [(key, text.strip()) for key, text in told.get(what, ())]
        if len({text.casefold() for _, text in texts}) > 1 or any(AND in text for _, text in texts):
            raise Contradiction(
                what,
                place=file.name,
                found=" and ".join(f"{text!r} in the note {key!r}" for key, text in texts),
                expected=f"one {what} above a table",
            )
        for key, text in texts:
            _check_name(file, what, text, f"the note {key!r}")


def names_in_columns(
    file: File,
    recording: Recording,
    swept: SweepPart,
    said: Mapping[str, str],
    known: Collection[str],
    by_hand: Collection[str] = (),
) -> dict[str, str]:
    """The names that columns tell of one sweep.

    Parameters
    ----------
    said : what the notes tell. known : the lab's fans, by whose writing a name is taken.
    by_hand : what is told by hand, whatever columns say.

    Raises
    ------
    Contradiction : a sweep with two names, or another than the notes tell. BadInput : no name at all.
    """
    written = {each.casefold(): each for each in known}
    found: dict[str, str] = {}
    for what in (each for each in NAMES if each not in by_hand):
        cells = [cell for cell in recording.texts.get(what, ())[swept.first : swept.last] if cell]
        told = list(dict.fromkeys(cells))
        if not told or (what == SAMPLE and len(told) == len(cells) > 1 and all(map(str.isdecimal, told))):
            continue  # a logger calls its readings samples, and counts them
        header = recording.headers[what]
        if len(told) > 1:
            raise Contradiction(
                what,
                place=file.name,
                found=f"{told[0]!r} and {told[1]!r} in the column {header!r}, in readings that are one sweep",
                expected="the sweeps one after the other, of three readings or more each, "
                f"or --as 'column:{header}=none'",
            )
        _check_name(file, what, told[0], f"the column {header!r}")
        name = written.get(told[0].casefold(), told[0]) if what == "fan" else told[0]
        if what in said and said[what].casefold() != name.casefold():
            raise Contradiction(
                what,
                place=file.name,
                found=f"{said[what]!r} in a note and {name!r} in the column {header!r}",
                expected=f"the same, or --as 'column:{header}=none'",
            )
        found[what] = name
    return found


def _check_name(file: File, what: str, text: str, where: str) -> None:
    if not text.isprintable() or len(text) > LONGEST:
        raise BadInput(
            what, place=file.name, found=f"{text[:LONGEST]!a} in {where}", expected="a name that shows"
        )
