"""Lets these tests share the papers' invented appraisals."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "report")]
