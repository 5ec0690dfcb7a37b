"""The command line: parses, calls, shows; holds no arithmetic."""
