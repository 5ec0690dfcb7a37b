"""What a setting is worth: stars, glow, tightness, score, rank."""
