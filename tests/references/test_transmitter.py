"""The transmitter's peaks and nulls against values worked out elsewhere."""

from __future__ import annotations

import csv
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest

from saltglaze.position.sonde import features
from saltglaze.position.sonde.field import along_line, dipole_field, moment_of

HERE = Path(__file__).parent
TABLE = tomllib.loads((HERE / "transmitter.toml").read_text())
PITCHED = list(
    csv.DictReader(
        line
        for line in (HERE / "transmitter_pitch.csv").read_text().splitlines()
        if not line.startswith("#")
    )
)


@pytest.mark.parametrize("depth_m", [0.8, 1.5, 3.0])
def test_level_nulls_and_ghost_peaks(depth_m):
    level = TABLE["level"]
    rear, front = features.null_offsets(depth_m, 0.0)
    assert front / depth_m == pytest.approx(level["null_share"], abs=1e-5)
    assert rear == pytest.approx(-front)
    assert features.depth_from_separation(front - rear) == pytest.approx(depth_m)
    _, ghost = features.ghost_peak_offsets(depth_m)
    assert ghost / depth_m == pytest.approx(level["ghost_share"], abs=2e-4)
    height = abs(along_line(np.array([ghost]), depth_m, 0.0)[0, 0]) * depth_m**3
    assert height == pytest.approx(level["ghost_height"], abs=1e-5)


def test_upright_coil_peaks_half_a_depth_off():
    x = np.linspace(0.0, 2.0, 20001)
    upright = np.abs(along_line(x, 1.0, 0.0)[:, 2])
    assert x[upright.argmax()] == pytest.approx(TABLE["level"]["vertical_peak_share"], abs=1e-4)
    assert upright.max() == pytest.approx(TABLE["level"]["vertical_peak_height"], abs=1e-5)


@pytest.mark.parametrize("row", TABLE["along"], ids=lambda row: f"x{row['x']}")
def test_signal_along_the_pipe(row):
    field = along_line(np.array([row["x"]]), 1.0, 0.0)[0]
    assert abs(field[0]) == pytest.approx(row["coil"], abs=6e-5)
    assert np.linalg.norm(field) == pytest.approx(row["total"], abs=6e-5)


@pytest.mark.parametrize("row", TABLE["across"], ids=lambda row: f"y{row['y']}")
def test_signal_across_the_pipe(row):
    field = dipole_field(np.array([[0.0, row["y"], 1.0]]), moment_of(0.0))[0]
    assert abs(field[0]) == pytest.approx(row["coil"], abs=6e-5)


@pytest.mark.parametrize("row", TABLE["two_heights"], ids=lambda row: f"d{row['depth_m']}")
def test_two_heights(row):
    got = features.depth_from_two_heights(row["ratio"], row["spacing_m"])
    assert got == pytest.approx(row["depth_m"], abs=2e-4)
    shift = features.depth_from_two_heights(row["ratio"] * 1.001, row["spacing_m"]) / got - 1.0
    assert -shift / 0.001 == pytest.approx(row["depth_per_ratio"], rel=0.01)
    line_formula = row["spacing_m"] / (row["ratio"] - 1.0)
    assert line_formula < 0.35 * got, "the formula for a cable must not be used on a transmitter"


@pytest.mark.parametrize("row", PITCHED, ids=lambda row: f"{row['pitch_deg']}deg")
def test_pitched(row):
    want = {name: float(value) for name, value in row.items()}
    pitch = want["pitch_deg"]
    rear, front = features.null_offsets(1.0, pitch)
    assert (front, rear) == pytest.approx((want["front_null"], want["rear_null"]), abs=6e-5)
    assert (front + rear) / 2.0 == pytest.approx(want["null_middle"], abs=6e-5)
    assert features.depth_from_separation(front - rear, pitch) == pytest.approx(1.0)
    level = features.depth_from_separation(front - rear)
    assert level == pytest.approx(want["level_formula_depth"], abs=6e-5)
    assert -front * rear == pytest.approx(0.5), "the arms' product is half the depth squared"
    upright = features.vertical_null_offset(1.0, pitch)
    assert upright == pytest.approx(want["vertical_null"], abs=6e-5)
    coil = features.peak_offset(1.0, pitch, total=False)
    assert coil == pytest.approx(want["coil_peak"], abs=2e-4)
    if pitch > 0.0:
        total = features.peak_offset(1.0, pitch, total=True)
        assert total == pytest.approx(want["total_peak"], abs=5e-4)
        assert math.copysign(1.0, total) < 0.0, "the total field peaks behind"
