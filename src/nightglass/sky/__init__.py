"""One real frame of stars, from samples to numbers."""
