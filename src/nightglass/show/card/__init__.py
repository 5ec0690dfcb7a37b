"""The field card: picture, page and print."""
