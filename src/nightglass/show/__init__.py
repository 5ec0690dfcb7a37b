"""Charts, tables and the field card."""
