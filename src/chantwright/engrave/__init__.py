"""Printed music and booklets."""
