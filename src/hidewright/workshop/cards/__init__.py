"""How-to cards and checklists: what the shop writes down once, so that a helper can work alone."""
