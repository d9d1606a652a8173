"""Rows to values: reads the database and returns the domain's values. Writes nothing."""
