"""The bench folder: what was planned, what was measured, results per setting."""
