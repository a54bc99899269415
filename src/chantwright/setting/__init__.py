"""Words set to the formulas of a tone."""
