"""Infer a pattern from the paths of measurement files: what is alike, what varies, what words give away."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from stillroom.errors import BadInput
from stillroom.readers.paths.names import Pattern, without_suffix
from stillroom.readers.paths.plain_words import says_what_was_logged
from stillroom.readers.paths.safe import safe_path

_NUMBER = r"\d{1,3}(?:[.,]\d+)?"

SIGNS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("duty", re.compile(rf"(?P<before>)(?P<value>{_NUMBER})(?P<after>\s?(?:pct|%|percent|pwm|duty))", re.I)),
    ("duty", re.compile(rf"(?P<before>(?:pwm|duty)[-= ]?)(?P<value>{_NUMBER})(?P<after>(?:pct|%)?)", re.I)),
    ("speed", re.compile(r"(?P<before>)(?P<value>\d{2,6})(?P<after>\s?rpm)", re.I)),
    ("speed", re.compile(r"(?P<before>(?:rpm|n)[-= ]?)(?P<value>\d{3,6})(?P<after>)", re.I)),
    ("volts", re.compile(rf"(?P<before>)(?P<value>{_NUMBER})(?P<after>\s?(?:v|volts?))", re.I)),
    ("date", re.compile(r"(?P<before>)(?P<value>20\d{2}-[01]\d-[0-3]\d|20\d{2}[01]\d[0-3]\d)(?P<after>)")),
    ("sample", re.compile(r"(?P<before>(?:s|sample)[-# ]?)(?P<value>\d{1,3}|[a-h])(?P<after>)", re.I)),
    ("mounting", re.compile(r"(?P<before>(?:m|mount|mounting)[-# ]?)(?P<value>\d{1,3})(?P<after>)", re.I)),
    (
        "channel",
        re.compile(r"(?P<before>(?:ch|chan|channel|kanal|voie)[-# ]?)(?P<value>\d{1,2})(?P<after>)", re.I),
    ),
    ("any", re.compile(r"(?P<before>(?:run|sweep|rep|r)[-# ]?)(?P<value>\d{1,3})(?P<after>)", re.I)),
)
"""Signs by which a part of a name gives away its field, the surest first."""

WORDS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("fan", re.compile(r"fan[-# ]?[^\W_]+", re.I)),
    (
        "obstacle",
        re.compile(
            r"(?:rad|radiator|filter|grille?|mesh|open|free|none|case|front|heatsink|tower|obstacle)"
            r"(?:[^\W_]|[-. ])*",
            re.I,
        ),
    ),
    ("rig", re.compile(r"(?:rig|chamber|bench|duct)(?:[^\W_]|-)*", re.I)),
)
"""Words that give away a field whose value is the whole word."""

_TOKENS = re.compile(r"([_ ]+)")
_FINE_TOKENS = re.compile(r"([_ \-]+)")


@dataclass
class _Slot:
    """One piece of all names at the same position.

    Parameters
    ----------
    values : what stands there, one a path.
    field : the field it was taken for; empty while unknown.
    before, after : literal text around the value.
    """

    values: tuple[str, ...]
    field: str = ""
    before: str = ""
    after: str = ""

    @property
    def varies(self) -> bool:
        return len(set(self.values)) > 1

    @property
    def is_of_log(self) -> bool:
        """Whether one of them says what was logged: it names no fan and no obstacle."""
        return any(map(says_what_was_logged, self.values))

    def text(self) -> str:
        return f"{self.before}{{{self.field}}}{self.after}" if self.field else self.values[0]


def infer_pattern(
    paths: Sequence[str],
    *,
    known: Mapping[str, Collection[str]] | None = None,
    given: Collection[str] = (),
) -> Pattern:
    """The pattern that the paths of measurement files have in common.

    Parameters
    ----------
    paths : relative paths with suffix.
    known : names that the lab knows already, by field ("fan", "obstacle", "rig").
    given : fields that are the same for all files and were said by hand, so that no name need tell them.

    Returns
    -------
    a pattern that fits all paths, to be shown and confirmed.

    Raises
    ------
    BadInput : names the first path that doesn't fit the others and which part, or says what no part tells.
    """
    if not paths:
        raise BadInput("names of files", found="no file", expected="at least one")
    split = [without_suffix(safe_path(path)).split("/") for path in paths]
    for wrong in odd_depths(paths).values():
        raise wrong
    names = {field: {each.casefold() for each in values} for field, values in (known or {}).items()}
    taken: set[str] = set(given)
    segments = []
    for position in range(len(split[0])):
        values = tuple(parts[position] for parts in split)
        segments.append(_segment(values, names, taken))
    slots = [slot for segment in segments for slot in segment if isinstance(slot, _Slot)]
    _place_the_rest(paths, slots, taken)
    text = "/".join("".join(s.text() if isinstance(s, _Slot) else s for s in segment) for segment in segments)
    pattern = Pattern(text)
    for path in paths:
        pattern.match(path)
    return pattern


def odd_depths(paths: Sequence[str]) -> dict[str, BadInput]:
    """The paths that lie under more or fewer folders than most, each with what is wrong with it."""
    folders = {path: len(without_suffix(safe_path(path)).split("/")) - 1 for path in paths}
    usual, _ = Counter(folders.values()).most_common(1)[0]
    return {
        path: BadInput(
            f"path {path!r}",
            found=f"{_folders(count)} above the file",
            expected=f"{_folders(usual)}, as most files have, or files added apart, or --as 'names=PATTERN'",
        )
        for path, count in folders.items()
        if count != usual
    }


def _folders(count: int) -> str:
    return f"{count or 'no'} folder{'' if count == 1 else 's'}"


def _segment(values: tuple[str, ...], names: Mapping[str, set[str]], taken: set[str]) -> list[_Slot | str]:
    """A folder or file name as slots and the separators between them."""
    whole = _Slot(values)
    if _by_sign(whole, names, taken):
        return [whole]
    for tokens in (_TOKENS, _FINE_TOKENS):
        if split := _split(values, tokens):
            slots, separators = split
            found = [_by_sign(slot, names, taken) for slot in slots]
            if any(found):
                for slot in slots:
                    _by_word(slot, taken)
                return _merged(slots, separators)
    if _by_word(whole, taken):
        return [whole]
    for tokens in (_TOKENS, _FINE_TOKENS):
        if split := _split(values, tokens):
            slots, separators = split
            found = [_by_word(slot, taken) for slot in slots]
            if any(found) or (not whole.is_of_log and any(slot.is_of_log for slot in slots)):
                return _merged(slots, separators)
    return [whole]


def _split(values: tuple[str, ...], tokens: re.Pattern[str]) -> tuple[list[_Slot], list[str]] | None:
    """The tokens of all values by position and what parts them, where that is the same in all of them."""
    pieces = [tokens.split(value) for value in values]
    count, separators = len(pieces[0]), pieces[0][1::2]
    if count == 1 or any(len(each) != count or each[1::2] != separators for each in pieces):
        return None
    return [_Slot(tuple(each[i] for each in pieces)) for i in range(0, count, 2)], separators


def _merged(slots: list[_Slot], separators: list[str]) -> list[_Slot | str]:
    """Neighbours that weren't recognised are one name ("fan", "07")."""
    merged: list[_Slot | str] = [slots[0]]
    for separator, slot in zip(separators, slots[1:], strict=True):
        last = merged[-1]
        if isinstance(last, _Slot) and not (last.field or slot.field) and last.is_of_log == slot.is_of_log:
            values = tuple(f"{a}{separator}{b}" for a, b in zip(last.values, slot.values, strict=True))
            merged[-1] = _Slot(values)
        else:
            merged += [separator, slot]
    return merged


def _by_sign(slot: _Slot, names: Mapping[str, set[str]], taken: set[str]) -> bool:
    """Take a slot for the field whose known names it holds, or whose sign all its values bear."""
    for field, listed in names.items():
        if field not in taken and all(value.casefold() in listed for value in slot.values):
            slot.field = field
            taken.add(field)
            return True
    for field, sign in SIGNS:
        hits = [sign.fullmatch(value) for value in slot.values]
        around = {(hit["before"], hit["after"]) for hit in hits if hit}
        if (field == "any" or field not in taken) and all(hits) and len(around) == 1:
            slot.field = field
            slot.before, slot.after = next(iter(around))
            taken |= {field} - {"any"}
            return True
    return False


def _by_word(slot: _Slot, taken: set[str]) -> bool:
    """Take a slot for the field that a word in all its values gives away."""
    for field, word in WORDS if not slot.is_of_log else ():
        if not slot.field and field not in taken and all(word.fullmatch(value) for value in slot.values):
            slot.field = field
            taken.add(field)
            return True
    return False


def _place_the_rest(paths: Sequence[str], slots: list[_Slot], taken: set[str]) -> None:
    """Slots without a sign: what varies first is the fan, then the obstacle; what is constant is literal, and what
    says only what was logged may be anything."""
    for slot in slots:
        if not slot.field and slot.is_of_log and (slot.varies or slot is slots[-1]):
            slot.field = "any"
    for field in ("fan", "obstacle"):
        free = [slot for slot in slots if not slot.field and slot.varies]
        if field not in taken and free:
            free[0].field = field
            taken.add(field)
    constant = [slot for slot in slots if not (slot.field or slot.varies or slot.is_of_log)]
    if "fan" not in taken and constant:
        constant[-1].field = "fan"
        taken.add("fan")
    if "fan" not in taken:
        raise BadInput(
            "names of files",
            place=paths[0],
            found="no part that tells the fan",
            expected="--as fan=NAME, or --as 'names=PATTERN' such as {fan}/s{sample}/{duty}pct",
        )
    left = next((slot for slot in slots if not slot.field and slot.varies), None)
    if left is not None:
        first = left.values[0]
        other = next(value for value in left.values if value != first)
        path = paths[left.values.index(other)]
        raise BadInput(
            f"path {path!r}",
            found=f"{other!r} where others have {first!r}",
            expected="a part whose meaning can be told, or --as 'names=PATTERN' with {any} for it",
        )
