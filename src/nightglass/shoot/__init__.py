"""The session at the bench: how to set it up, what to shoot, and which line a frame is."""
