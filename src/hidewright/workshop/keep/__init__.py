"""Values to rows: stores the domain's values. Called by steps, inside their transaction."""
