"""Makes this room's hand-made evidence and the simulated lines of benchmarks/ importable."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[2] / "benchmarks")]
