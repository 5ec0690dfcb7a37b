"""What else moves the number: the factor study of one setting with the star at one place."""
