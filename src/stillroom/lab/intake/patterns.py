"""The patterns of file names that a lab knows, side by side: the one that fits a name is the one that reads it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from stillroom.errors import BadInput, Contradiction, StillroomError
from stillroom.lab.book import SETTINGS, Book
from stillroom.lab.eras.rigs_by_date import rig_names
from stillroom.lab.intake.batch import Ask, agreed
from stillroom.lab.intake.layouts import REMEMBERED
from stillroom.lab.intake.parts import setting_words
from stillroom.lab.intake.told_heat import FIELDS as HEAT_FIELDS
from stillroom.lab.intake.told_heat import heat_in_si, heat_words
from stillroom.lab.intake.told_settings import setting_in_si
from stillroom.lab.intake.told_sound import FIELDS as SOUND_FIELDS
from stillroom.lab.intake.told_sound import sound_in_si, sound_words
from stillroom.lab.versions import names_of
from stillroom.readers.paths.inference import infer_pattern, odd_depths
from stillroom.readers.paths.names import Pattern

BETWEEN = "\n"
"""What parts the patterns that a lab remembers, in one text."""

Said = dict[str, str]


@dataclass(frozen=True)
class NamesRead:
    """What patterns say of names of files.

    Parameters
    ----------
    said : {file: {field: text}}, settings in SI. bad : {file: why its name can't be read}.
    words : what the first name that was needed means, or "". remember : the patterns that the lab is to remember
    from now on, "" where there is no new one. patterns : those that were known or inferred.
    """

    said: dict[str, Said] = field(default_factory=dict)
    bad: dict[str, StillroomError] = field(default_factory=dict)
    words: str = ""
    remember: str = ""
    patterns: tuple[Pattern, ...] = ()


@dataclass
class PatternsOfLab:
    """The patterns by which names are read: the one that was told now alone; else that of `lab.toml` before those
    that were confirmed earlier; else one that is inferred from the names, and confirmed.

    Parameters
    ----------
    told : a pattern that was told now, or "". fixed : {field: text} that is told for all files.
    ask : how to ask, or None. shown : only to be shown: nobody has to confirm.
    """

    book: Book
    told: str
    fixed: Mapping[str, str]
    ask: Ask | None
    shown: bool

    def read(self, names: Sequence[str], needed: Sequence[str]) -> NamesRead:
        """What the names of files say.

        Parameters
        ----------
        names : of the files. needed : those of them that have to tell the fan; the others may.

        Raises
        ------
        BadInput : the lab knows no pattern, and none can be inferred, or nobody confirmed it.
        """
        known = [Pattern(each) for each in self._known()]
        found = NamesRead()
        by: dict[str, Pattern] = {}
        for name in names if known else ():
            try:
                by[name], found.said[name] = self._fitting(name, known)
            except StillroomError as error:
                if name in needed:
                    found.bad[name] = error
        unread = [
            name for name in needed if name not in by and not isinstance(found.bad.get(name), Contradiction)
        ]
        if unread and not self.told and (not known or self.ask is not None or self.shown):
            return self._inferred(found, unread, alone=not known)
        first = next((name for name in needed if name in by), "")
        words = self._words(by[first], first, found.said[first]) if first else ""
        return NamesRead(
            found.said, found.bad, words, self._remembered_with(self.told if by else ""), tuple(known)
        )

    def _known(self) -> list[str]:
        if self.told:
            return [self.told]
        return list(dict.fromkeys(each for each in (self.book.settings.names, *self._remembered()) if each))

    def _remembered(self) -> list[str]:
        saved = self.book.layouts.get(REMEMBERED)
        return [each for each in (saved.reading.get("names", "") if saved else "").split(BETWEEN) if each]

    def _remembered_with(self, new: str) -> str:
        """The patterns that are remembered, with a new one at their end; "" where it is none, or known."""
        known = self._remembered()
        return BETWEEN.join([*known, new]) if new and new not in {*known, self.book.settings.names} else ""

    def _fitting(self, name: str, known: Sequence[Pattern]) -> tuple[Pattern, Said]:
        """The pattern that a name fits, and what it says: that of `lab.toml`, else the one of most folders.

        Raises
        ------
        BadInput : none fits. Contradiction : several do, and say different things.
        """
        fitting: list[tuple[Pattern, Said]] = []
        problems: list[StillroomError] = []
        for pattern in known:
            try:
                fitting.append((pattern, said_by(pattern, name)))
            except StillroomError as error:
                problems.append(error)
            else:
                if pattern.text == self.book.settings.names:
                    return fitting[-1]
        if not fitting:
            raise problems[0] if len(problems) == 1 else BadInput(
                f"path {name!r}",
                found="a name that fits none of the lab's patterns " + ", ".join(each.text for each in known),
                expected="--as 'names=PATTERN', or a row of a run table",
            )  # fmt: skip
        most = max(_folders(pattern) for pattern, _ in fitting)
        fitting = [each for each in fitting if _folders(each[0]) == most]
        if any(said != fitting[0][1] for _, said in fitting):
            texts = " and ".join(pattern.text for pattern, _ in fitting)
            raise Contradiction(
                f"path {name!r}",
                found=f"{texts}, which both fit and say different things",
                expected="one of them by --as 'names=PATTERN', or names in lab.toml",
            )
        return fitting[0]

    def _inferred(self, found: NamesRead, unread: Sequence[str], *, alone: bool) -> NamesRead:
        """The same with names that no known pattern fits, by one that is inferred and confirmed; names in folders
        of another depth than most are bad.

        Raises
        ------
        BadInput : none can be inferred or nobody confirmed it, and the lab knows no other.
        """
        odd = odd_depths(unread)
        alike = [name for name in unread if name not in odd]
        try:
            pattern = self._inferred_from(alike)
            said = {name: said_by(pattern, name) for name in alike}
            words = self._words(pattern, alike[0], said[alike[0]])
            if self.shown:
                words += f"; where no terminal asks, confirm it with --as 'names={pattern.text}'"
            elif not agreed(self.ask, f"{words}. Is that right?"):
                raise BadInput(
                    "names of the files",
                    place=alike[0],
                    found=f"{words}, which nobody has confirmed",
                    expected=f"--as 'names={pattern.text}', another pattern, or a run table",
                )
        except StillroomError:
            if alone:
                raise
            return replace(found, patterns=tuple(Pattern(each) for each in self._known()))
        bad = {name: error for name, error in found.bad.items() if name not in said} | odd
        remember = "" if self.shown else self._remembered_with(pattern.text)
        patterns = (*(Pattern(each) for each in self._known()), pattern)
        return NamesRead(found.said | said, bad, words, remember, patterns)

    def _inferred_from(self, names: Sequence[str]) -> Pattern:
        """The pattern of the names, first without the folder that was given, then with it."""
        book = self.book
        known = {"fan": list(book.fans), "obstacle": names_of(book.obstacles), "rig": rig_names(book.rigs)}
        within = [name.split("/", 1)[-1] for name in names]
        try:
            return infer_pattern(within, known=known, given=tuple(self.fixed))
        except BadInput:
            return infer_pattern(names, known=known, given=tuple(self.fixed))

    def _words(self, pattern: Pattern, name: str, said: Mapping[str, str]) -> str:
        told = {**said, **self.fixed}
        parts = ", ".join(f"{each} {shown(each, told[each])}" for each in pattern.fields if each in told)
        return f"{name} means {parts} (pattern {pattern.text})"


def _folders(pattern: Pattern) -> int:
    return pattern.text.count("/")


def said_by(pattern: Pattern, name: str) -> Said:
    """What a pattern says of as many parts of a path's end as it has; an error names the whole path."""
    tail = "/".join(name.split("/")[-len(pattern.text.split("/")) :])
    try:
        matched = pattern.match(tail)
    except (BadInput, Contradiction) as error:
        raise type(error)(
            f"path {name!r}", place=error.place, found=error.found, expected=error.expected
        ) from None
    return in_si(matched, name)


def in_si(said: Mapping[str, str], place: str) -> Said:
    """The same with settings and other numbers in SI, as text that gives the number back exactly."""
    return {name: _in_si(name, text, place) for name, text in said.items()}


def _in_si(name: str, text: str, place: str) -> str:
    if name in SETTINGS:
        return repr(setting_in_si(name, text, place))
    if name in HEAT_FIELDS:
        return heat_in_si(name, text, place)
    return sound_in_si(name, text, place) if name in SOUND_FIELDS else text


def shown(name: str, value: str) -> str:
    """A value as people write it: a number in its usual unit."""
    if name in SETTINGS:
        return setting_words(name, value)
    if name in HEAT_FIELDS:
        return heat_words(name, value)
    return sound_words(name, value) if name in SOUND_FIELDS else value
