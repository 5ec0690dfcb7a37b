"""The night planner: when to go, what to set, how many frames."""
