"""Write a trained net as an ONNX file that takes any number of what it looks at."""

from __future__ import annotations

from pathlib import Path

import torch
from torch import nn


def write(net: nn.Module, sample: tuple[int, ...], path: Path, taken: str, told: str) -> None:
    """Write a net that takes ``taken``, of the shape of ``sample``, and gives ``told``."""
    torch.onnx.export(
        net.cpu().eval(),
        (torch.zeros(*sample),),
        str(path),
        input_names=[taken],
        output_names=[told],
        dynamic_axes={taken: {0: "n"}, told: {0: "n"}},
        opset_version=17,
        dynamo=False,
    )
