"""Snags and checks: what turned up, what was measured, what must be done again."""
