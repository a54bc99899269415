"""Words into syllables, stresses and phrases."""
