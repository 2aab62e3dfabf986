"""The eye: what the picture alone says."""
