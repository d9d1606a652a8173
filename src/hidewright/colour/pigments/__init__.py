"""Pigments: films, what a dispersion absorbs and scatters, drawdowns, the shelf, wet and dry."""
