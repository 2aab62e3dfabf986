"""The two small nets: one finds lines of burned-in text, one reads a strip of it."""

from __future__ import annotations

import torch
from torch import nn


def conv(inputs: int, outputs: int, stride: tuple[int, int]) -> nn.Sequential:
    """3x3 convolution, batch norm, ReLU."""
    return nn.Sequential(
        nn.Conv2d(inputs, outputs, 3, stride, 1, bias=False),
        nn.BatchNorm2d(outputs),
        nn.ReLU(inplace=True),
    )


class Along(nn.Module):
    """Residual 1-d convolution along the text, dilated."""

    def __init__(self, width: int, dilation: int) -> None:
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv1d(width, width, 3, padding=dilation, dilation=dilation, bias=False),
            nn.BatchNorm1d(width),
            nn.ReLU(inplace=True),
            nn.Conv1d(width, width, 1, bias=False),
            nn.BatchNorm1d(width),
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return torch.relu(x + self.body(x))


class Reader(nn.Module):
    """Strip (n, 1, 32, w) to log odds (n, w / 4, classes) and features (n, w / 4, width).

    The strip is grey levels 0..255; levelling by its own mean and spread is part of the net.
    """

    def __init__(self, classes: int, width: int = 80) -> None:
        super().__init__()
        self.look = nn.Sequential(
            conv(1, 20, (2, 2)), conv(20, 36, (2, 1)), conv(36, 52, (2, 2)), conv(52, 64, (2, 1))
        )
        self.squeeze = nn.Sequential(
            nn.Conv1d(128, width, 1, bias=False), nn.BatchNorm1d(width), nn.ReLU(inplace=True)
        )
        self.along = nn.Sequential(
            Along(width, 1), Along(width, 2), Along(width, 4), Along(width, 1)
        )
        self.head = nn.Conv1d(width, classes, 1)

    def forward(self, strip: torch.Tensor) -> tuple[torch.Tensor, torch.Tensor]:
        mean = strip.mean(dim=(2, 3), keepdim=True)
        spread = ((strip - mean) ** 2).mean(dim=(2, 3), keepdim=True).sqrt()
        x = self.look((strip - mean) / (spread + 6.0))
        x = torch.cat([x[:, :, 0], x[:, :, 1]], dim=1)
        features = self.along(self.squeeze(x))
        return self.head(features).transpose(1, 2), features.transpose(1, 2)


class Around(nn.Module):
    """Residual depthwise block: wide in x, narrow in y, like text."""

    def __init__(self, width: int, dilation: int) -> None:
        super().__init__()
        self.body = nn.Sequential(
            nn.Conv2d(
                width,
                width,
                (3, 5),
                padding=(dilation, 2 * dilation),
                dilation=dilation,
                groups=width,
                bias=False,
            ),
            nn.BatchNorm2d(width),
            nn.ReLU(inplace=True),
            nn.Conv2d(width, width, 1, bias=False),
            nn.BatchNorm2d(width),
        )

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return torch.relu(x + self.body(x))


class Finder(nn.Module):
    """Frame (n, 1, h, w) to (n, 2, h / 4, w / 4): log odds of text core, log2(digit height / 16)."""

    def __init__(self, width: int = 32) -> None:
        super().__init__()
        self.look = nn.Sequential(conv(1, 16, (2, 2)), conv(16, width, (2, 2)))
        self.around = nn.Sequential(*(Around(width, d) for d in (1, 2, 4, 1, 2, 1)))
        self.head = nn.Conv2d(width, 2, 1)

    def forward(self, frame: torch.Tensor) -> torch.Tensor:
        return self.head(self.around(self.look(frame / 64.0 - 1.5)))
