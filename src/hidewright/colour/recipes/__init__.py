"""Recipes: which pigments, how much of each, and what the mix is worth."""
