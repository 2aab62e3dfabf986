"""Whose ground, whose pipe, whose tap, and what test would settle it."""
