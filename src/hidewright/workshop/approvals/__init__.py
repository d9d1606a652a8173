"""Variants of a colour side by side, and which of them was agreed, by whom and when."""
