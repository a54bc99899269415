"""The score model, the hymn file and edits."""
