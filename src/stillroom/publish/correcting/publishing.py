"""Publishing a correction: a new release that carries the notice, and a link to it in the old one."""

from __future__ import annotations

import json
from pathlib import Path
from urllib.parse import quote

from stillroom.errors import BadInput
from stillroom.lab.executor import Progress, silent
from stillroom.publish.contents import Contents
from stillroom.publish.correcting.moved import Moved
from stillroom.publish.correcting.notice import notice_of, summary
from stillroom.publish.document.as_data import as_data
from stillroom.publish.document.as_html import as_html
from stillroom.publish.document.as_pdf import as_pdf
from stillroom.publish.freezing import freeze
from stillroom.publish.parts import PARTS, Part
from stillroom.publish.release import Release
from stillroom.store.files import write_whole
from stillroom.store.releases import CORRECTED, NOTICE

SCHEMA = "stillroom/corrected/1"

NAME = "correction"


def publish_correction(
    contents: Contents,
    release: Release,
    moved: Moved,
    progress: Progress = silent,
    *,
    parts: tuple[Part, ...] = PARTS,
) -> Release:
    """Freeze the release that corrects another, and let the old one lead to it.

    The old release stays as it was, to the byte, but for page/notice.js and corrected.json beside its manifest.

    Parameters
    ----------
    contents : of the new release. release : the one that it corrects. moved : what moved between both.

    Raises
    ------
    BadInput : the old release was corrected before; or as `freeze`.
    """
    if release.corrected_by:
        raise BadInput(f"correction of {release.name}", found=f"that {release.corrected_by} corrected it already",
                       expected=f"stillroom correct {release.corrected_by}")  # fmt: skip

    def notice(made: Contents, folder: Path, progress: Progress) -> list[Path]:
        return write_correction(made, moved, folder, progress)

    new = freeze(contents, progress, parts=(*parts, Part("documents", notice, "correction")))
    lead_to(release, new, moved)
    return new


def write_correction(contents: Contents, moved: Moved, folder: Path, progress: Progress) -> list[Path]:
    """Write correction.html, .pdf and .json into a release's documents."""
    progress(NAME, 0, 1)
    document = notice_of(moved, new=contents.name)
    html, data = folder / f"{NAME}.html", folder / f"{NAME}.json"
    html.write_text(as_html(document), encoding="utf-8", newline="\n")
    told = {**moved.as_dict(), "corrected_by": contents.name, "notice": as_data(document)}
    data.write_text(_json(told), encoding="utf-8", newline="\n")
    pdf = as_pdf(document, folder / f"{NAME}.pdf")
    progress(NAME, 1, 1)
    return [html, data, pdf]


def lead_to(release: Release, new: Release, moved: Moved) -> None:
    """Let an old release say that it was corrected, and where the new one is."""
    told = {"schema": SCHEMA, "by": new.name, "date": new.date}
    _write(release.folder / CORRECTED, _json(told))
    page = release.folder / NOTICE
    if page.parent.is_dir():
        words = {"date": new.date, "words": " ".join(summary(moved)[1:]) or f"{new.name} takes its place.",
                 "href": f"../../{quote(new.name)}/page/index.html"}  # fmt: skip
        _write(page, f"window.stillroomNotice = {_script(words)};\n")


def _script(told: dict[str, str]) -> str:
    """JSON that may stand in a script: nothing in it ends the script or its line."""
    text = json.dumps(told, ensure_ascii=True, indent=1)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _json(told: object) -> str:
    return json.dumps(told, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _write(path: Path, text: str) -> None:
    write_whole(path, lambda file: file.write(text.encode()))
