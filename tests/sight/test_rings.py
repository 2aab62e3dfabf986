"""The ring net's answer on strips."""

import numpy as np

from saltglaze.sight.rings import MARGIN, PIECE, ahead_of_rows, ring_heat
from saltglaze.sight.strips import ANGLES, RINGS, closeness


def strips(count, ring_of=None):
    draw = np.random.default_rng(1)
    pictures = draw.normal(0, 8, (count, RINGS, ANGLES))
    for k in range(count):
        if ring_of is not None and 1 <= (row := round(ring_of(k))) < RINGS - 1:
            pictures[k, row - 1 : row + 2] -= 60
    return np.clip(pictures, -127, 127).astype(np.int8)


def test_a_dark_ring_that_comes_nearer_is_seen_at_its_row():
    heat = ring_heat(strips(80, lambda k: 75 - k))
    where = heat[20:60].argmax(axis=1) * 2
    assert np.abs(where - (75 - np.arange(20, 60))).max() <= 3
    assert heat[20:60].max(axis=1).min() > 0.5


def test_a_short_arc_and_bare_noise_are_none():
    arc = strips(80)
    for k in range(80):
        row = 75 - k
        if row >= 1:
            arc[k, row - 1 : row + 2, : ANGLES // 8] -= 60
    assert (ring_heat(strips(80)) > 0.5).mean() < 0.001
    assert (ring_heat(arc)[20:60] > 0.5).mean() < 0.02


def test_long_films_are_looked_at_in_pieces_that_join():
    pictures = strips(PIECE + 3 * MARGIN, lambda k: 75 - (k % 80))
    middle = slice(PIECE - 2 * MARGIN, PIECE + 2 * MARGIN)
    whole = ring_heat(pictures)
    apart = ring_heat(pictures[PIECE - 4 * MARGIN :])
    assert np.abs(whole[middle] - apart[2 * MARGIN : 6 * MARGIN]).max() < 1e-4


def test_rows_are_distances_of_the_rim():
    ahead = ahead_of_rows()
    assert ahead[0] == 1.0
    assert len(ahead) == RINGS // 2
    assert np.array_equal(ahead, closeness()[::2])
