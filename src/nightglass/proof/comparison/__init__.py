"""Bench and sky side by side: place by place, setting by setting, order against order."""
