"""Papers and the price: everything that is printed or quoted."""
