"""Picture files opened as one record: samples, colours, levels, metadata."""
