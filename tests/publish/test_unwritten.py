"""A file of ours that is missing is told as that, and not as a want of room."""

from __future__ import annotations

from pathlib import Path

import pytest

from stillroom.errors import BadInput, StillroomError
from stillroom.lab.executor import Progress
from stillroom.publish.contents import Contents, gather
from stillroom.publish.freezing import freeze
from stillroom.publish.parts import Part
from stillroom.publish.unwritten import unwritten
from stillroom.store.lab import Lab


def test_a_missing_file_is_no_want_of_room(tmp_path: Path) -> None:
    gone = tmp_path / "letters.ttf"
    with pytest.raises(FileNotFoundError) as caught:
        gone.read_bytes()
    told = unwritten("dossier", caught.value, tmp_path, BadInput)
    assert not isinstance(told, BadInput)
    assert (told.place, told.found) == (str(gone), "no such file")
    assert "room" not in told.sentence()


@pytest.mark.parametrize("error", [PermissionError(13, "Permission denied"), OSError(28, "No space left")])
def test_no_room_and_no_right_are_told_as_such(error: OSError, tmp_path: Path) -> None:
    told = unwritten("dossier", error, tmp_path, BadInput)
    assert isinstance(told, BadInput)
    assert (told.place, told.found) == (str(tmp_path), error.strerror)
    assert told.expected == "room and the right to write"


def test_a_part_that_misses_a_file_of_ours_says_which(own_lab: Path) -> None:
    def misses(_contents: Contents, _folder: Path, _progress: Progress) -> list[Path]:
        (own_lab / "page.css").read_bytes()
        return []

    with Lab(own_lab) as lab, pytest.raises(StillroomError, match=r"page\.css: found no such file") as caught:
        freeze(gather(lab, "spring", measures=("free-airflow",)), parts=(Part("page", misses, "the page"),))
    assert caught.value.thing == "release, the page"
    assert list((own_lab / "releases").iterdir()) == []
