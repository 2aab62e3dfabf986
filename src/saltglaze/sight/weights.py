"""The small nets shipped with the package: each opened once, on one thread."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from onnxruntime import InferenceSession

VIEW: Final = "view.onnx"
RING: Final = "ring.onnx"
WATER: Final = "water.onnx"
ODD: Final = "odd.onnx"
FINDER: Final = "counter/finder.onnx"
READER: Final = "counter/reader.onnx"


@cache
def session(net: str) -> InferenceSession:
    """Return the session of one of the nets above."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(_bytes(net), options, providers=["CPUExecutionProvider"])


@cache
def fingerprint() -> str:
    """Return a mark of all the nets: another net may read the same film anew."""
    mark = hashlib.sha256()
    for net in (VIEW, RING, WATER, ODD, FINDER, READER):
        mark.update(_bytes(net))
    return mark.hexdigest()[:16]


def _bytes(net: str) -> bytes:
    return files("saltglaze.sight").joinpath(net).read_bytes()
