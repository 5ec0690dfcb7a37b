"""One lens on several bodies, in words, tables and plain data."""
