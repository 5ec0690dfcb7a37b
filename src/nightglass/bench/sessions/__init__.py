"""Sessions at the bench: told apart, tied together by frames of one setting, drift within them."""
