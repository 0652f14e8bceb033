"""Pictures of fans: kept among the originals, told by the fan's name in their own, or by `--as fan=…`."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from pathlib import PurePosixPath

from stillroom.errors import BadInput, StillroomError
from stillroom.lab.book import Book, fans_known
from stillroom.lab.intake.batch import Batch, File
from stillroom.records.acts import Run
from stillroom.records.products import Fan
from stillroom.records.publishing import Photo

PICTURES = (".jpg", ".jpeg", ".png")
"""Endings of the names of pictures."""

_STARTS = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_SAMPLE = re.compile(r"(?<![^\W_])(?:sample[-_# ]?|s)(\d{1,3})(?![^\W_])", re.IGNORECASE)


def keep_pictures(
    batch: Batch, book: Book, told: Mapping[str, str], said: Mapping[str, Mapping[str, str]]
) -> None:
    """Keep the pictures of fans that are being brought in, after all that tells which fans there are.

    Parameters
    ----------
    told : what was said by `--as`. said : {file: what its name says} of the measurement files.
    """
    known = fans_known(book)
    for name in _fans_coming(batch, said):
        known.setdefault(name.casefold(), name)
    fans = known.values()
    for file in batch.pictures:
        try:
            batch.records.append((photo_of(file, told, fans), file.name, file.name))
        except StillroomError as error:
            if file.alone:
                batch.bad.append(error)
            else:
                batch.left_out[file.name] = f"{error.thing}: {error.found}"
        else:
            batch.files.append(file)


def _fans_coming(batch: Batch, said: Mapping[str, Mapping[str, str]]) -> Iterator[str]:
    """The fans that records, names of files and the files themselves tell of what is being brought in."""
    names = [each.fan for each, _, _ in batch.records if isinstance(each, Fan | Run)]
    for each in batch.measured:
        names.append(said.get(each.file.name, {}).get("fan"))
        names += [own.get("fan") for own in each.found]
    yield from filter(None, names)


def photo_of(file: File, told: Mapping[str, str], fans: Collection[str]) -> Photo:
    """A picture as the record of a fan's, or of one of its samples.

    Parameters
    ----------
    told : what was said by `--as`: fan and sample. fans : the names of the lab's fans.

    Raises
    ------
    BadInput : no JPEG or PNG picture, or one whose name tells no fan of the lab, or several.

    A name that tells none is read with the folders over it, one more at a time.
    """
    with file.source.open() as stream:
        if not stream.read(8).startswith(_STARTS):
            raise BadInput(
                "picture", place=file.name, found="other bytes than those of one", expected="JPEG or PNG"
            )
    stem = PurePosixPath(file.name).with_suffix("").as_posix()
    ways = ["/".join((*file.above[at:], stem)) for at in range(len(file.above), -1, -1)]
    way = next((each for each in ways if _fans_in(each, fans)), stem)
    fan = told.get("fan") or _fan_in(way, file.name, fans)
    hit = _SAMPLE.search(way)
    sample = told.get("sample") or (f"s{int(hit[1])}" if hit else None)
    return Photo(sha256=file.source.sha256, file=file.name, fan=fan, sample=sample)


def _fan_in(stem: str, name: str, fans: Collection[str]) -> str:
    """The only fan whose name stands in a picture's."""
    found = _fans_in(stem, fans)
    if len(found) != 1:
        words = "the names of " + " and ".join(sorted(found)) if found else "no fan of the lab in its name"
        expected = "a name with the fan, such as FAN/s1/label.jpg, or --as fan=NAME"
        raise BadInput("picture", place=name, found=words, expected=expected)
    return found.pop()


def _fans_in(stem: str, fans: Collection[str]) -> set[str]:
    """The fans whose names stand in a picture's; of "Heath" and "Heath Pro" the longer one where both fit."""
    plain = _plain(stem)
    found = {each for each in fans if re.search(rf"(?<!\w){re.escape(_plain(each))}(?!\w)", plain)}
    return found - {
        each for each in found for other in found if each != other and _plain(each) in _plain(other)
    }


def _plain(words: str) -> str:
    """Words for comparison: without case, dashes and underscores as blanks."""
    return " ".join(re.sub(r"[-_ ]+", " ", words.casefold()).split())
