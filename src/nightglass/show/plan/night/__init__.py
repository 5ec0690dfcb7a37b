"""One night: hours, settings, pictures."""
