"""Drawing beside the watching: a picture takes a second or two, and the next word must not wait for it."""

from __future__ import annotations

from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

from stillroom.charts.series import CurveChart
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.executor import one_worker
from stillroom.lab.watch.watch_picture import paint, warm_up


class Painter:
    """Draws the newest picture in a process of its own; what is overtaken by a newer one isn't drawn.

    Parameters
    ----------
    folder : where the pictures go.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._pool = one_worker()
        self._pool.submit(warm_up)  # starting takes longer than drawing: done while nothing is there to draw
        self._drawing: Future[tuple[Path, ...]] | None = None
        self._next: CurveChart | None = None

    def draw(self, chart: CurveChart) -> None:
        """Draw a picture as soon as the one before it is done."""
        self._next = chart
        self._begin()

    @property
    def busy(self) -> bool:
        """Whether something is being drawn."""
        return self._drawing is not None

    def finished(self) -> tuple[Path, ...]:
        """The files of a picture that is done now; empty where none is.

        Raises
        ------
        StillroomError : it could not be drawn or written.
        """
        if self._drawing is None or not self._drawing.done():
            return ()
        done, self._drawing = self._drawing, None
        try:
            files = done.result()
            self._begin()
        except StillroomError:
            raise
        except (OSError, BrokenProcessPool) as error:
            raise NotPossible("picture", place=str(self.folder), found=str(error)) from None
        return files

    def _begin(self) -> None:
        if self._drawing is None and self._next is not None:
            self._drawing = self._pool.submit(paint, self.folder, self._next)
            self._next = None

    def close(self) -> None:
        """End the process; what it is just drawing it finishes."""
        self._pool.shutdown(wait=False, cancel_futures=True)
