"""Labels are spread without touching, in order, as little as may be."""

from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from saltglaze.report.sheet.labels import Frame, spread
from saltglaze.report.sheet.scene import Box

wishes = st.lists(st.floats(0, 100), min_size=1, max_size=12).map(sorted)


@given(wishes, st.data())
def test_spread_labels_never_touch_and_stay_inside(wanted, data):
    sizes = data.draw(st.lists(st.floats(0.5, 8), min_size=len(wanted), max_size=len(wanted)))
    found = spread(wanted, sizes, 0.0, 100.0)
    if sum(sizes) > 100.0:
        assert found is None
        return
    edges = [(x - s / 2, x + s / 2) for x, s in zip(found, sizes, strict=True)]
    assert edges[0][0] >= -1e-6
    assert edges[-1][1] <= 100.0 + 1e-6
    assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(edges))


def test_spread_moves_labels_least():
    """SciPy's SLSQP on the same quadratic programme is the outside check."""
    wanted, sizes = np.array([10.0, 11.0, 11.5, 30.0, 31.0]), np.array([4.0, 6.0, 5.0, 3.0, 3.0])
    found = np.array(spread(list(wanted), list(sizes), 0.0, 60.0))
    gaps = (sizes[:-1] + sizes[1:]) / 2
    best = minimize(
        lambda x: float(((x - wanted) ** 2).sum()),
        wanted,
        constraints=[
            {"type": "ineq", "fun": lambda x, i=i: x[i + 1] - x[i] - gaps[i]} for i in range(4)
        ],
        method="SLSQP",
        tol=1e-10,
    )
    assert np.allclose(found, best.x, atol=1e-4)


@given(st.lists(st.tuples(st.floats(5, 95), st.floats(5, 45)), min_size=1, max_size=60))
def test_placed_boxes_never_overlap(anchors):
    frame = Frame(Box(0, 0, 100, 50))
    placed = [box for a in anchors if (box := frame.place_anywhere(a, 4.0, 4.0)) is not None]
    assert len(placed) == len(anchors)
    for i, one in enumerate(placed):
        assert one.inside(frame.box)
        assert not any(one.overlaps(other) for other in placed[i + 1 :])
