"""The planner's texts, pictures and files."""
