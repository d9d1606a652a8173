"""Litres with odds, what to buy, and what was used."""
