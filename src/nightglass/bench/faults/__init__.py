"""What is wrong with a lens, as far as its spots can tell: the copy, the shape, the stops."""
