"""What a factor study says, in words, data and a chart."""
