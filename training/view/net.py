"""The view reader: a small convolutional net over a pair of discs."""

from __future__ import annotations

from itertools import pairwise

import torch
from torch import Tensor, nn

OUTPUTS = 17
"""0, 1: von Mises vector of the roll (sine, cosine side), its length the concentration;
2, 3: depth share of water and log sd; 4: standing (logit); 5-11: view (logits); 12, 13:
advance over the pair in diameters and log sd; 14, 15: turn over the pair in tens of
degrees and log sd; 16: whether an edge along the pipe is seen that lies level (logit)."""


class ViewNet(nn.Module):
    """Discs (n, 2, side, side) in 0..1 to what is seen (n, OUTPUTS)."""

    def __init__(self) -> None:
        super().__init__()
        widths = (2 + 3, 24, 40, 64, 96, 128)
        layers: list[nn.Module] = []
        for before, after in pairwise(widths):
            layers += [
                nn.Conv2d(before, after, 3, stride=2, padding=1),
                nn.BatchNorm2d(after),
                nn.SiLU(),
            ]
            if after >= 40:
                layers += [nn.Conv2d(after, after, 3, padding=1, groups=after // 8)]
                layers += [nn.BatchNorm2d(after), nn.SiLU()]
        self.body = nn.Sequential(*layers)
        self.head = nn.Sequential(
            nn.Flatten(),
            nn.Linear(128 * 9, 128),
            nn.SiLU(),
            nn.Dropout(0.1),
            nn.Linear(128, OUTPUTS),
        )
        at = (torch.arange(96) - 47.5) / 48.0
        down, across = torch.meshgrid(at, at, indexing="ij")
        away = torch.sqrt(down**2 + across**2)
        self.register_buffer("where", torch.stack([across, down, away])[None])

    def forward(self, discs: Tensor) -> Tensor:
        """Return what is seen, (n, OUTPUTS)."""
        where = self.where.expand(discs.shape[0], -1, -1, -1)
        return self.head(self.body(torch.cat([discs * 2.0 - 0.7, where], dim=1)))
