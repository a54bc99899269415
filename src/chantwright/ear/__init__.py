"""Hear a singer and say, in moria and in a teacher's words, what was sung and what was off."""
