"""Light and colour: from spectra to colours under a light, differences of colours, and the only door to colour-science."""
