"""One lens on several bodies: its places at the same image height held against each other."""
