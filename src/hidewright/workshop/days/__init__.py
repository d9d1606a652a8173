"""The plan: what goes on which table on which day, its progress and its changes, and the day's air."""
