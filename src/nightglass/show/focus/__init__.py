"""Focus series: words, data and the picture."""
