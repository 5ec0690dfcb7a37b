"""Finding and measuring points of light in the mosaic, with error bars and flags."""
