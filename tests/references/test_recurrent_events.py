"""The power-law process and gamma-Poisson against published answers."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from saltglaze.cleaning.events import Rate, fit_power_law

TABLE = tomllib.loads((Path(__file__).parent / "recurrent_events.toml").read_text())


@pytest.mark.parametrize("row", TABLE["fit"], ids=[row["id"] for row in TABLE["fit"]])
def test_published_fit(row):
    fit = fit_power_law(row["times"], row["end"], unbiased=row["unbiased"])
    assert fit.shape == pytest.approx(row["want_shape"], abs=row["within_shape"])
    assert fit.scale == pytest.approx(row["want_scale"], abs=row["within_scale"])
    if "want_mtbf" in row:
        mtbf = 1.0 / fit.intensity(row["end"])
        assert mtbf == pytest.approx(row["want_mtbf"], abs=row["within_mtbf"])


def test_pumps():
    """Posterior means of ten rates, shape 1 (a plain gamma-Poisson)."""
    row = TABLE["pumps"]
    prior = Rate(row["shape"], row["rate"], 1.0)
    for count, exposure, want in zip(row["events"], row["exposure"], row["want"], strict=True):
        waits = [exposure] + [0.0] * (count - 1)
        posterior = prior.after(waits, [True] * count)
        assert posterior.events / posterior.exposure == pytest.approx(want, rel=row["within"])
