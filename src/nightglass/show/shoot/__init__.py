"""The bench plan and the watch in words, tables, check list and print."""
