"""Where a frame points and what its camera is, from catalogue stars."""
