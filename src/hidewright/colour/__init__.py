"""Colour: readings, pigment films, and what to put in the cup.

`cie` turns spectra into colours under a light; `film` says what a coating does over a ground; `pigments` holds what
each pigment does and finds it from drawdowns; `readings` reads what instruments write; `match` looks for recipes.
"""
