"""How sure a verdict is: spread, intervals, ties, and what could change the order."""
