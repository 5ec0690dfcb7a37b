"""The picture as viewed: what the eye sees of a setting's stars, glow and trails."""
