"""Bodies, lenses and the bag: what the person owns or borrows, and how it is written down."""
