"""Frames with known truth for the demo and the tests; never imported by what measures or judges."""
