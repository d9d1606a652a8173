"""Readings, targets, the search for recipes, and a cup held against its target."""
