"""Words and pictures of a patch of the sky as two settings record it."""
