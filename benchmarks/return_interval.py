"""Whether the return interval keeps its promises on made-up lines.

Lines are drawn from the prior, and from rates twice and half as high; each has a few
waits on record. Prints how often the 95 % interval holds the true time to a one in
five risk, and how many lines stop up before the advised visit. Run:
python benchmarks/return_interval.py
"""

from __future__ import annotations

import numpy as np

from saltglaze.cleaning.regrowth import RISK, root_prior

LINES = 4000
LONGEST_WAIT_YEARS = 2.0


def one_line(rng, count, factor):
    """Return whether the interval held the truth, and whether it stopped too early."""
    prior = root_prior()
    rate = factor * rng.gamma(prior.events, 1.0 / prior.exposure)
    waits = (rng.exponential(1.0, count) / rate) ** (1.0 / prior.shape)
    ended = waits <= LONGEST_WAIT_YEARS
    belief = prior.after(list(np.minimum(waits, LONGEST_WAIT_YEARS)), list(ended))
    truth = (-np.log(1.0 - RISK) / rate) ** (1.0 / prior.shape)
    low, high = belief.time_to_risk_interval(RISK)
    next_stop = (rng.exponential(1.0) / rate) ** (1.0 / prior.shape)
    return low <= truth <= high, next_stop < belief.time_to_risk(RISK)


def main():
    """Print the table."""
    print("rate vs prior  waits  95 % interval holds  stopped before the visit")
    for factor in (1.0, 2.0, 0.5):
        for count in (0, 1, 3, 6, 12):
            rng = np.random.default_rng(31)
            held, stopped = np.mean([one_line(rng, count, factor) for _ in range(LINES)], axis=0)
            print(f"{factor:13.1f} {count:6d} {held:20.3f} {stopped:25.3f}")


if __name__ == "__main__":
    main()
