"""Made-up glances for tests of what time makes of them."""

import numpy as np

from saltglaze.sight.glance import VIEWS, Glances
from saltglaze.sight.slide import Slide
from saltglaze.sight.waterline import DEPTHS

RIM_D = 0.5


def glances(count, **given):
    """Glances of a clear, dry pipe and a resting camera, but for what is given."""

    def column(name, default):
        return np.broadcast_to(np.asarray(given.get(name, default), dtype=float), (count,)).copy()

    views = np.zeros((count, len(VIEWS)))
    views[:, 0] = 1.0
    return Glances(
        roll_rad=column("roll_rad", 0.0),
        concentration=column("concentration", 0.0),
        standing=column("standing", 0.5),
        views=given.get("views", views),
        advance_d=column("advance_d", 0.0),
        advance_sd_d=column("advance_sd_d", 0.02),
        turn_rad=column("turn_rad", 0.0),
        turn_sd_rad=column("turn_sd_rad", 0.005),
        edge=column("edge", 0.0),
    )


def waterlines(depths, spread):
    """Looks that say each of these depths, with a normal spread."""
    apart = (np.atleast_1d(depths)[:, None] - DEPTHS[None, :]) / spread
    chance = np.exp(-0.5 * apart**2) + 1e-12
    return np.log(chance / chance.sum(axis=1, keepdims=True))


def slides(count, advance_d=0.0, same_wall=True):
    """Steps of a camera that advances evenly by ``advance_d`` diameters a sample."""
    step = np.broadcast_to(np.asarray(advance_d, dtype=float) / RIM_D, (count,)).copy()
    return Slide(step, np.full(count, same_wall), RIM_D)
