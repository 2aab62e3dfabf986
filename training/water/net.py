"""The waterline reader: a small convolutional net over a pair of unrolled walls."""

from __future__ import annotations

import torch
from torch import Tensor, nn

from saltglaze.sight.waterline import DEPTHS


class WaterNet(nn.Module):
    """Walls (n, 2, ROWS, COLUMNS) in 0..1 to logits of the water's depth (n, len(DEPTHS)).

    An edge along the pipe is a column, whatever its distance: a little stem sees grain and
    glints in row and column, then all rows of a column are looked at together.
    """

    def __init__(self) -> None:
        super().__init__()
        self.stem = nn.Sequential(
            nn.Conv2d(2, 8, 3, stride=2, padding=1),
            nn.BatchNorm2d(8),
            nn.SiLU(),
            nn.Conv2d(8, 16, 3, stride=(2, 1), padding=1),
            nn.BatchNorm2d(16),
            nn.SiLU(),
        )
        self.round = nn.Sequential(
            *_round(16 * 8 + 1, 96), *_round(96, 96, 2), *_round(96, 96, 1, 2), *_round(96, 96, 2)
        )
        self.head = nn.Sequential(
            nn.Flatten(),
            nn.Linear(96 * 20, 128),
            nn.SiLU(),
            nn.Dropout(0.2),
            nn.Linear(128, len(DEPTHS)),
        )
        self.register_buffer("from_invert", torch.linspace(-1.0, 1.0, 80).abs()[None, None])

    def forward(self, walls: Tensor) -> Tensor:
        """Return logits, (n, len(DEPTHS))."""
        columns = self.stem(walls * 2.0 - 0.7).flatten(1, 2)
        where = self.from_invert.expand(walls.shape[0], 1, -1)
        return self.head(self.round(torch.cat([columns, where], dim=1)))


def _round(before: int, after: int, stride: int = 1, apart: int = 1) -> list[nn.Module]:
    looks = nn.Conv1d(before, after, 3, stride=stride, padding=apart, dilation=apart)
    return [looks, nn.BatchNorm1d(after), nn.SiLU()]
