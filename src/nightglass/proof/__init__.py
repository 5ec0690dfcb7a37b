"""The bench held against frames of the real sky."""
