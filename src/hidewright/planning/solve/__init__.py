"""How plans are made: the bench as it runs, the search, the bound, and the planner that runs them in order."""
