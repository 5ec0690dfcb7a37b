"""Words for everything that a frame of the real sky tells."""
