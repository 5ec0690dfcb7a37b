"""The questions of each step: what they ask, and which functions answer."""
