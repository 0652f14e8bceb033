"""The reader's page as files: its own, the release's words, a file per fan, and what the estimate needs."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from stillroom.charts.fonts import REGULAR, STRONG, face
from stillroom.charts.palette import PALETTES, Theme
from stillroom.lab.executor import Progress, silent
from stillroom.publish.account import account_of
from stillroom.publish.contents import Contents
from stillroom.publish.estimate.writing import write_estimate
from stillroom.publish.page.excerpt_files import write_excerpts
from stillroom.publish.page.fan_files import FanFiles
from stillroom.publish.page.published_rankings import rankings_told
from stillroom.publish.page.release_words import index_words, release_told

FILES = Path(__file__).parent / "files"

SCRIPTS = (
    "columns.js",
    "lookup.js",
    "estimate.js",
    "numbers.js",
    "parts.js",
    "settings.js",
    "conditions.js",
    "published.js",
    "drawing.js",
    "form.js",
    "sounds.js",
    "ranking.js",
    "curves.js",
    "fan.js",
    "pair.js",
    "page.js",
)
"""Copied as they are, in the order in which the page loads them."""

STAGE = "reader’s page"


def write_page(contents: Contents, folder: Path, progress: Progress = silent) -> list[Path]:
    """Write the reader's page into a folder.

    Parameters
    ----------
    contents : what is published. folder : the release's own `page`; made where it isn't there.

    Returns
    -------
    The files written, in the order of their names.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = list(write_estimate(contents, folder, progress))
    fans = known_fans(folder)
    told = release_told(contents)
    told["published"] = rankings_told(contents, fans, known_obstacles(folder))
    sounds, excerpts = write_excerpts(contents, fans, folder, progress)
    if sounds:
        told["sounds"] = sounds
    words = index_words(contents, folder.parent)
    files: dict[str, str] = {each: (FILES / each).read_text(encoding="utf-8") for each in SCRIPTS}
    files["index.html"] = filled((FILES / "index.html").read_text(encoding="utf-8"), words)
    files["release.js"] = f"window.stillroomRelease = {as_script(told)};\n"
    files["notice.js"] = "window.stillroomNotice = null;\n"
    files["page.css"] = style(_letters(files.values(), fans))
    for name, text in files.items():
        written.append(_put(folder / name, text))
    written += _fan_files(contents, fans, folder / "fans", progress)
    return sorted({*written, *excerpts})


def _fan_files(contents: Contents, fans: list[str], folder: Path, progress: Progress) -> Iterable[Path]:
    folder.mkdir(exist_ok=True)
    made = FanFiles(contents, account_of(contents))
    for index, fan in enumerate(fans):
        progress(STAGE, index, len(fans))
        yield _put(folder / f"{index}.js", f"stillroomFan({index}, {as_script(made.of(fan))});\n")
    progress(STAGE, len(fans), len(fans))


def known_fans(folder: Path) -> list[str]:
    """The fans of the page in the order of their numbers, as data.js lists them."""
    return [str(each) for each in _data(folder)["fans"]["name"]]


def known_obstacles(folder: Path) -> dict[str, str]:
    """{name in the lab, with its version or without: name by which readers choose it}, as data.js lists them."""
    told = _data(folder)["obstacles"]
    return {str(each[key]): str(each["name"]) for key in ("words", "name") for each in told}


def _data(folder: Path) -> dict[str, Any]:
    text = (folder / "data.js").read_text(encoding="utf-8")
    return dict(json.loads(text[text.index("{") : text.rindex("}") + 1]))


def filled(page: str, words: dict[str, str]) -> str:
    """A page with words (escaped already) in place of {{names}}; each name that it has must be told."""
    return re.sub(r"\{\{(\w+)\}\}", lambda hit: words[hit[1]], page)


def as_script(data: object) -> str:
    """Data as JSON that may stand in a script: nothing in it ends the script or its line."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"), sort_keys=True)
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def style(letters: str) -> str:
    """The page's style sheet: the letters that it needs, the house's colours by role, and the rules."""
    light, dark = (
        "".join(f"--{name}:{colour};" for name, colour in PALETTES[theme].items()) for theme in Theme
    )
    colours = (
        f":root{{{light}color-scheme:light}}\n"
        f"@media (prefers-color-scheme:dark){{:root:not([data-theme=light]){{{dark}color-scheme:dark}}}}\n"
        f":root[data-theme=dark]{{{dark}color-scheme:dark}}\n"
        f"@media print{{:root,:root:not([data-theme=light]),:root[data-theme=dark]{{{light}color-scheme:light}}}}\n"
    )
    faces = "\n".join(face(weight, letters) for weight in (REGULAR, STRONG))
    return f"{faces}\n{colours}{(FILES / 'page.css').read_text(encoding='utf-8')}"


def _letters(texts: Iterable[str], fans: Iterable[str]) -> str:
    """The letters beyond the usual ones: those of the page's own words and of fans' names."""
    return "".join(sorted({each for text in (*texts, *fans) for each in text if ord(each) > 0x7E}))


def _put(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8", newline="\n")
    return path
