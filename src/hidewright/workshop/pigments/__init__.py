"""Pigments, drawdowns, K and S, lamps, and what cups taught about the bottles."""
