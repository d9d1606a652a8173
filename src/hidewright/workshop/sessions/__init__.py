"""The day's sessions: what is sprayed together and with which load."""
