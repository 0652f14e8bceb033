"""Pictures of fans: kept among the originals, told by the fan's name in their own, or by `--as fan=…`."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from pathlib import PurePosixPath

from stillroom.errors import BadInput
from stillroom.lab.intake.batch import File
from stillroom.records.publishing import Photo

PICTURES = (".jpg", ".jpeg", ".png")
"""Endings of the names of pictures."""

_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_SAMPLE = re.compile(r"(?<![^\W_])(?:sample[-_# ]?|s)(\d{1,3})(?![^\W_])", re.IGNORECASE)


def photo_of(file: File, told: Mapping[str, str], fans: Collection[str]) -> Photo:
    """A picture as the record of a fan's, or of one of its samples.

    Parameters
    ----------
    told : what was said by `--as`: fan and sample. fans : the names of the lab's fans.

    Raises
    ------
    BadInput : no JPEG or PNG picture, or one whose name tells no fan of the lab, or several.
    """
    with file.source.open() as stream:
        if not stream.read(8).startswith(_STARTS):
            raise BadInput(
                "picture", place=file.name, found="other bytes than those of one", expected="JPEG or PNG"
            )
    stem = PurePosixPath(file.name).with_suffix("").as_posix()
    fan = told.get("fan") or _fan_in(stem, file.name, fans)
    hit = _SAMPLE.search(stem)
    sample = told.get("sample") or (f"s{int(hit[1])}" if hit else None)
    return Photo(sha256=file.source.sha256, file=file.name, fan=fan, sample=sample)


def _fan_in(stem: str, name: str, fans: Collection[str]) -> str:
    """The fan whose name stands in a picture's; of "Heath" and "Heath Pro" the longer one where both fit."""
    plain = _plain(stem)
    found = {each for each in fans if re.search(rf"(?<!\w){re.escape(_plain(each))}(?!\w)", plain)}
    found -= {each for each in found for other in found if each != other and _plain(each) in _plain(other)}
    if len(found) != 1:
        words = "the names of " + " and ".join(sorted(found)) if found else "no fan of the lab in its name"
        expected = "a name with the fan, such as FAN/s1/label.jpg, or --as fan=NAME"
        raise BadInput("picture", place=name, found=words, expected=expected)
    return found.pop()


def _plain(words: str) -> str:
    """Words for comparison: without case, dashes and underscores as blanks."""
    return " ".join(re.sub(r"[-_ ]+", " ", words.casefold()).split())
