"""The robust adjustment against published traverses, general solvers and dense algebra.

Traverse tables: the compass (Bowditch) rule equals least squares when each leg's two
components are independent with variance in proportion to its length, so published
compass tables check a least-squares solver exactly.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from saltglaze.position.adjust import EquationBook, adjust


def compass(lengths, latitudes, departures):
    """Adjust a closed loop from (0, 0); returns corrected latitudes and departures."""
    legs = len(lengths)
    sd = np.sqrt(np.asarray(lengths, dtype=float)) * 0.01
    out = []
    for components in (latitudes, departures):
        book = EquationBook(legs + 1)
        node = np.arange(legs)
        book.add(np.column_stack([node, node + 1]), [-1.0, 1.0], components, sd)
        book.add([[0], [legs]], 1.0, 0.0, 1e-7)
        solved = adjust(book.close(), chain=legs + 1, band=1)
        out.append(np.diff(solved.unknowns))
    return out


def test_loop_of_the_purdue_traverse_page():
    # Purdue "travcalc" worked example (confirmed), closed loop, start 10000 N, 10000 E.
    lengths = [285.10, 610.45, 720.48, 203.00, 647.02]
    azimuth = np.radians([26 + 10 / 60, 104 + 35 / 60, 195.5, 358 + 18 / 60, 306.9])
    latitude, departure = compass(
        lengths, np.array(lengths) * np.cos(azimuth), np.array(lengths) * np.sin(azimuth)
    )
    north = 10000.0 + np.cumsum(latitude)[:4]
    east = 10000.0 + np.cumsum(departure)[:4]
    assert north == pytest.approx([10255.96, 10102.44, 9408.37, 9611.34], abs=0.01)
    assert east == pytest.approx([10125.66, 10716.31, 10523.62, 10517.55], abs=0.01)


@pytest.mark.parametrize(
    ("lengths", "latitudes", "departures", "adjusted_latitudes", "adjusted_departures"),
    [
        pytest.param(
            # Mahun, Open Access Surveying, Traverse Computations E (confirmed).
            [472.68, 216.13, 276.52, 382.24],
            [-176.357, 203.395, 192.357, -219.312],
            [-438.548, -73.093, 198.651, 313.065],
            [-176.386, 203.382, 192.340, -219.336],
            [-438.574, -73.105, 198.636, 313.044],
            id="mahun-e",
        ),
        pytest.param(
            # Mahun, solution 2 (confirmed).
            [639.15, 523.69, 409.54, 815.93],
            [-436.662, 523.690, -234.660, 147.517],
            [-466.732, 0.0, -335.645, 802.484],
            [-436.631, 523.715, -234.640, 147.556],
            [-466.761, -0.023, -335.663, 802.447],
            id="mahun-2",
        ),
        pytest.param(
            # Mahun, solution 1 (confirmed).
            [379.25, 408.90, 298.65, 276.55],
            [-306.820, -103.152, 288.842, 121.280],
            [222.918, -395.675, -75.909, 248.538],
            [-306.862, -103.197, 288.809, 121.250],
            [222.954, -395.637, -75.881, 248.564],
            id="mahun-1",
        ),
    ],
)
def test_published_compass_tables(
    lengths, latitudes, departures, adjusted_latitudes, adjusted_departures
):
    latitude, departure = compass(lengths, latitudes, departures)
    assert latitude == pytest.approx(adjusted_latitudes, abs=0.0011)
    assert departure == pytest.approx(adjusted_departures, abs=0.0011)


def test_lengths_after_adjustment_show_the_misprint_of_the_third_leg():
    # The page of "mahun-e" prints 276.479; its own components give 276.497 (computed).
    latitude, departure = compass(
        [472.68, 216.13, 276.52, 382.24],
        [-176.357, 203.395, 192.357, -219.312],
        [-438.548, -73.093, 198.651, 313.065],
    )
    assert np.hypot(latitude, departure) == pytest.approx(
        [472.715, 216.121, 276.497, 382.236], abs=0.0011
    )


def test_corrections_are_in_proportion_to_length():
    # Compass-rule slides (confirmed): loop of 80.40, 46.30, 72.80, 68.00, sum +0.285.
    latitude, departure = compass(
        [80.40, 46.30, 72.80, 68.00], [0.285, 0.0, 0.0, 0.0], [0.311, 0.0, 0.0, 0.0]
    )
    assert [0.285 - latitude[0], *-latitude[1:]] == pytest.approx(
        [0.0857, 0.0493, 0.0776, 0.0724], abs=1e-4
    )
    assert [0.311 - departure[0], *-departure[1:]] == pytest.approx(
        [0.0935, 0.0538, 0.0846, 0.0791], abs=1e-4
    )


def test_chain_with_fixes_at_both_ends():
    # Computed in the field dossier: legs of 10 with sd 0.2, fixes 0.0 and 29.1 with sd 0.3.
    book = EquationBook(4)
    book.add([[0, 1], [1, 2], [2, 3]], [-1.0, 1.0], 10.0, 0.2)
    book.add([[0], [3]], 1.0, [0.0, 29.1], 0.3)
    solved = adjust(book.close(), chain=4, band=1)
    assert solved.unknowns == pytest.approx([-0.270, 9.610, 19.490, 29.370], abs=5e-4)
    sd = np.sqrt(solved.chain_covariance[0])
    assert sd == pytest.approx([0.2510, 0.2714, 0.2714, 0.2510], abs=5e-5)
    weighted = solved.residuals / np.array([0.2, 0.2, 0.2, 0.3, 0.3])
    assert float(weighted @ weighted) == pytest.approx(2.700, abs=5e-4)


def test_scale_through_zero_and_weighted_mean():
    # Computed in the field dossier.
    book = EquationBook(1)
    book.add([[0], [0], [0]], [[10.0], [20.0], [30.0]], [9.8, 19.7, 29.4], 0.1)
    solved = adjust(book.close())
    assert solved.unknowns[0] == pytest.approx(0.98143, abs=5e-6)
    assert -solved.residuals == pytest.approx([-0.0143, 0.0714, -0.0429], abs=5e-5)

    book = EquationBook(1)
    book.add([[0], [0]], 1.0, [10.0, 10.4], [0.15, 0.30])
    mean = adjust(book.close())
    assert mean.unknowns[0] == pytest.approx(10.080)
    assert np.sqrt(mean.covariance(np.eye(1))[0, 0]) == pytest.approx(0.1342, abs=5e-5)


def chain_problem(seed, size, border, gross=0.0):
    """A random chain with a border; returns (equations, dense matrix, values, sd)."""
    rng = np.random.default_rng(seed)
    book = EquationBook(size + border)
    node = np.arange(size - 1)
    book.add(np.column_stack([node, node + 1]), [-1.0, 1.0], rng.normal(1.0, 0.2, size - 1), 0.2)
    book.add([[0]], 1.0, 0.0, 0.1)
    for extra in range(border):
        seen = rng.integers(0, size, 5)
        columns = np.column_stack([seen, np.full(5, size + extra)])
        values = seen - 10.0 * extra + rng.normal(0.0, 0.3, 5)
        if gross:
            values[0] += 50.0
        book.add(columns, [1.0, -1.0], values, 0.3, gross, 30.0)
        book.add([[size + extra]], 1.0, 10.0 * extra, 3.0)
    return book.close()


@given(seed=st.integers(0, 10**6), size=st.integers(3, 40), border=st.integers(0, 4))
@settings(max_examples=40, deadline=None)
def test_bordered_band_equals_dense_algebra(seed, size, border):
    equations = chain_problem(seed, size, border)
    solved = adjust(equations, chain=size, band=1)
    dense = equations.matrix.toarray() / equations.sd[:, None]
    information = dense.T @ dense
    expected = np.linalg.solve(information, dense.T @ (equations.values / equations.sd))
    covariance = np.linalg.inv(information)
    assert solved.unknowns == pytest.approx(expected, abs=1e-8)
    assert solved.chain_covariance[0] == pytest.approx(np.diag(covariance)[:size], rel=1e-6)
    assert solved.chain_covariance[1, : size - 1] == pytest.approx(
        np.diag(covariance, -1)[: size - 1], rel=1e-6, abs=1e-9
    )


def test_agrees_with_a_general_solver_of_the_same_error_law():
    # Peer: scipy.optimize.least_squares, dense, on the square roots of the same costs.
    equations = chain_problem(7, 60, 3, gross=0.1)
    start = np.concatenate([np.arange(60.0), 10.0 * np.arange(3.0)])
    solved = adjust(equations, chain=60, band=1, start=start, rounds=200, settled=1e-9)
    dense = equations.matrix.toarray()

    def cost(residual):
        near = np.log1p(-equations.out_share) - np.log(equations.sd)
        far = np.log(np.maximum(equations.out_share, 1e-300)) - np.log(equations.out_sd)
        near = near - 0.5 * (residual / equations.sd) ** 2
        return -np.logaddexp(near, far - 0.5 * (residual / equations.out_sd) ** 2)

    def residuals(unknowns):
        residual = dense @ unknowns - equations.values
        root = np.sqrt(np.maximum(2.0 * (cost(residual) - cost(np.zeros(residual.size))), 0.0))
        return np.sign(residual) * root

    peer = least_squares(residuals, start, xtol=1e-14, ftol=1e-14, gtol=1e-12)
    assert solved.unknowns == pytest.approx(peer.x, abs=1e-3)
    assert np.sum(solved.good < 0.5) == 3


def test_a_gross_error_does_not_move_the_answer():
    book = EquationBook(1)
    book.add(np.zeros((9, 1), dtype=int), 1.0, [1.0] * 8 + [40.0], 0.1, 0.05, 10.0)
    solved = adjust(book.close(), start=np.array([1.0]))
    assert solved.unknowns[0] == pytest.approx(1.0, abs=0.01)
    assert solved.good[-1] < 1e-6
