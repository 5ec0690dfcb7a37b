"""Words, plain data and the sheet of what the finishing did."""
