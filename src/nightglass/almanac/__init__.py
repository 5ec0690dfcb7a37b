"""Sun, moon, places, twilight and trails: what the sky does at a place and a time."""
