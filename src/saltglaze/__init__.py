"""saltglaze: from a camera run through a drain to a located, graded, costed record."""

__version__ = "0.1.0"
