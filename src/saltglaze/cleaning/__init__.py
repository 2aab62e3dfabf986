"""Jetting, what it may have done, and when to come back."""
