"""The bench compared with frames of the real sky."""
