def watch() -> None:
    """stub"""
