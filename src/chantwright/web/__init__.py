"""Pages that link what was made."""
