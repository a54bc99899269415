"""Pascha, tone of the week, eothinon and the shape of the services."""
