"""The stretch of a recording that is listened to, in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.sound.excerpt import FADE, faded, steadiest
from stillroom.errors import NotPossible


def test_the_steadiest_stretch_is_chosen() -> None:
    seconds = 30.0 + np.array([1.0, 0.5, 0.1, -0.1, 0.0, 0.2, -0.6, 1.1, 0.0])
    assert steadiest(seconds, 4.0) == 2
    assert steadiest(seconds, 3.2) == 2
    assert steadiest(seconds, 1.0) == 2


def test_a_transient_is_never_in_it() -> None:
    seconds = 30.0 + np.array([0.0, 0.0, 9.0, 0.0, 2.0, 2.0, 0.0, 0.0])
    assert steadiest(seconds, 4.0) == 3
    with pytest.raises(NotPossible, match="without a transient"):
        steadiest(seconds, 5.0)


def test_a_short_recording_has_no_long_excerpt() -> None:
    with pytest.raises(NotPossible, match="3 s of sound"):
        steadiest(np.full(4, 30.0), 6.0)


def test_fades_are_raised_cosines() -> None:
    rate = 1000
    found = faded(np.ones(3000, dtype=np.float32), rate)
    fade = round(FADE * rate)
    np.testing.assert_array_equal(found[fade:-fade], 1.0)
    expected = 0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    np.testing.assert_allclose(found[:fade], expected)
    np.testing.assert_allclose(found[-fade:], expected[::-1])
    assert len(faded(np.ones(5, dtype=np.float32), rate)) == 5
