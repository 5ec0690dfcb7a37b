"""One frame of the sky: words, map, stars, report."""
