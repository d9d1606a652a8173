"""Take-off: from faces to coats, litres with odds, and what must be bought."""
