"""The parish folder, its service plans and its pitch."""
