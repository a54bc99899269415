"""The eight tones and their branches, as data."""
