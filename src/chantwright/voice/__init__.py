"""Practice recordings."""
