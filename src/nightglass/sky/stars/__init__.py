"""Finding the stars of a frame and measuring each of them."""
