"""What a sensor does to light: gain, noise, black, clipping, from frames anyone can take."""
