"""Products, bottles, lots and vessels, and the book of all that was poured."""
