"""Where a picture lies on its reference."""
