"""What is wrong with each lens: words, data and the picture."""
