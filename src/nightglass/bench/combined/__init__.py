"""What several frames say together: where the star stood, levels, scatter, the mean spot."""
