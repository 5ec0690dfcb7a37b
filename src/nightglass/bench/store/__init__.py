"""The bench store: what was measured, kept."""
