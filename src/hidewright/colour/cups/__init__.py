"""The cup at hand: how far it is off and what to pour next."""
