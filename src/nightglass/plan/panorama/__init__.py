"""How many frames, in which order."""
