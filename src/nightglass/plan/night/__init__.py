"""When to go and what to set."""
