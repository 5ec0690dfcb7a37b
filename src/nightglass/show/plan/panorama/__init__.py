"""Panoramas and stacks."""
