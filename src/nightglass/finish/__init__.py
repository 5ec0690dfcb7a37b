"""What the finishing of a picture did to its stars: developed pictures held against the frame."""
