"""chantwright: from a date and plain words to a printed, singable booklet with recordings."""

__version__ = "0.1.0"
