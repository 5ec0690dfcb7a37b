"""Rendered frames of the night sky with known truth."""
