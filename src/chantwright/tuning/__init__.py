"""Tuning: moria, cents and Hz; scales, their repetition, and Scala files."""
