"""The ring reader: a small convolutional net over a stretch of strips."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

SECTOR = 3
"""This many of the strip's angles are averaged before the net looks."""

HEAT_ROWS = 40
"""Rows of the answer: every second row of the strip."""


class RingNet(nn.Module):
    """Strips (time, RINGS, ANGLES) to logits of a ring (time, HEAT_ROWS).

    First each strip by itself, round the circumference; what is alike all the way round
    is kept by mean and maximum over the angle. Then time against row, where a ring is a
    streak that runs towards the rim as the camera advances.
    """

    def __init__(self, wide: int = 40) -> None:
        super().__init__()
        self.edge = nn.Conv2d(1, 12, (5, 3), padding=(2, 0))
        self.part = nn.Conv2d(12, 16, (5, 3), stride=(2, 2), padding=(2, 0))
        layers: list[nn.Module] = []
        before = 32
        for along, across in ((1, 1), (2, 1), (4, 2), (8, 2), (1, 1)):
            layers += [
                nn.Conv2d(before, wide, 3, padding=(along, across), dilation=(along, across)),
                nn.BatchNorm2d(wide),
                nn.SiLU(),
            ]
            before = wide
        self.streak = nn.Sequential(*layers, nn.Conv2d(wide, 1, 1))

    def forward(self, strips: Tensor) -> Tensor:
        """Return logits, (time, HEAT_ROWS), of strips in units of int8."""
        return self.many(strips[None])[0]

    def many(self, strips: Tensor) -> Tensor:
        """Return logits (n, time, HEAT_ROWS) of strips (n, time, RINGS, ANGLES)."""
        n, time, rows, angles = strips.shape
        x = strips.reshape(n * time, 1, rows, angles) / 48.0
        x = functional.avg_pool2d(x, (1, SECTOR))
        x = functional.silu(self.edge(_round(x)))
        x = functional.silu(self.part(_round(x)))
        x = torch.cat([x.mean(dim=3), x.amax(dim=3)], dim=1)
        x = x.reshape(n, time, -1, HEAT_ROWS).permute(0, 2, 1, 3)
        return self.streak(x)[:, 0]


def _round(x: Tensor) -> Tensor:
    """Lay a column of the other side at each side: the circumference has no end."""
    return torch.cat([x[..., -1:], x, x[..., :1]], dim=3)
