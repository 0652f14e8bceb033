"""The reader's page as files: its own, the release's words, a file per fan, and what the estimate needs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from stillroom.lab.executor import Progress, silent

if TYPE_CHECKING:
    from stillroom.publish.contents import Contents


def write_page(contents: Contents, folder: Path, progress: Progress = silent) -> list[Path]:
    """Write the reader's page into a folder.

    Parameters
    ----------
    contents : what is published. folder : the release's own `page`; made where it isn't there.

    Returns
    -------
    The files written, in the order of their names.
    """
    raise NotImplementedError
