"""The reader of odd places: a small convolutional net over one strip."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional


class OddNet(nn.Module):
    """Strips (n, RINGS, ANGLES) to logits of an odd place, half as many rows and columns.

    Looked at coarsely and finely, as one must to tell a root from grain; the circumference
    has no end.
    """

    def __init__(self) -> None:
        super().__init__()
        self.fine = _Look(1, 12, (5, 3), 2)
        self.middle = nn.Sequential(_Look(12, 32, (3, 3), 2), _Look(32, 32))
        self.coarse = nn.Sequential(_Look(32, 48, (3, 3), 2), _Look(48, 48), _Look(48, 48))
        self.back = nn.Sequential(_Look(32 + 48, 32, (1, 1)), _Look(32, 24))
        self.told = nn.Sequential(_Look(12 + 24, 16, (1, 1)), nn.Conv2d(16, 1, 1))

    def forward(self, strips: Tensor) -> Tensor:
        """Return logits, (n, RINGS / 2, ANGLES / 2), of strips in units of int8."""
        fine = self.fine(strips[:, None] / 48.0)
        middle = self.middle(fine)
        back = self.back(torch.cat([middle, _twice(self.coarse(middle))], dim=1))
        return self.told(torch.cat([fine, _twice(back)], dim=1))[:, 0]


class _Look(nn.Module):
    def __init__(
        self, before: int, after: int, size: tuple[int, int] = (3, 3), stride: int = 1
    ) -> None:
        super().__init__()
        self.wide = size[1] // 2
        self.look = nn.Conv2d(before, after, size, stride, padding=(size[0] // 2, 0))
        self.norm = nn.BatchNorm2d(after)

    def forward(self, x: Tensor) -> Tensor:
        if self.wide:
            x = torch.cat([x[..., -self.wide :], x, x[..., : self.wide]], dim=3)
        return functional.silu(self.norm(self.look(x)))


def _twice(x: Tensor) -> Tensor:
    return functional.interpolate(x, scale_factor=2.0, mode="nearest")
