"""Star catalogue and the motion of the sky."""
