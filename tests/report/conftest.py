"""Lets the papers' tests share their invented appraisals."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
