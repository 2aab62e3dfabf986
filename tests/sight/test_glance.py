"""What a glance must keep, whatever the net has learnt."""

import numpy as np
import pytest

from saltglaze.sight.disc import SIDE_PX, inside
from saltglaze.sight.glance import glance


@pytest.fixture(scope="module")
def pairs():
    draw = np.random.default_rng(1)
    discs = draw.normal(90, 30, (6, 2, SIDE_PX, SIDE_PX))
    discs[:, :, SIDE_PX // 2 :, : SIDE_PX // 2] += 60
    return (np.clip(discs, 0, 255) * inside()).astype(np.uint8)


def test_a_mirrored_pipe_is_seen_mirrored(pairs):
    seen, mirrored = glance(pairs), glance(np.ascontiguousarray(pairs[..., ::-1]))
    assert np.allclose(np.exp(1j * seen.roll_rad), np.exp(-1j * mirrored.roll_rad), atol=1e-5)
    assert np.allclose(seen.turn_rad, -mirrored.turn_rad, atol=1e-6)
    for name in ("advance_d", "standing", "concentration", "edge"):
        assert np.allclose(getattr(seen, name), getattr(mirrored, name), atol=1e-5), name


def test_spreads_are_positive_and_view_states_add_up(pairs):
    seen = glance(pairs)
    for name in ("advance_sd_d", "turn_sd_rad"):
        assert (getattr(seen, name) > 0.0).all(), name
    assert np.allclose(seen.views.sum(axis=1), 1.0)
