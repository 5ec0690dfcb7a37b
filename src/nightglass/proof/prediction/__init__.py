"""What bench and night predict of a frame, beside what was found in it."""
