"""Mixing: the ledger of everything poured, what is in each vessel because of it, and what to pour next."""
