"""What stands where: best settings, ranking, frontier, jumps of a zoom, pairs."""
