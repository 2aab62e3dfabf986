"""The transmitter in the camera head: a magnetic dipole seen from the ground above."""
