"""The tables of the database: the rows of every subject."""

import importlib

SUBJECTS = ("shop", "shelf", "pigments", "colours", "room", "pieces", "quantities", "days", "inspection")
for _subject in SUBJECTS:
    importlib.import_module(f"hidewright.workshop.{_subject}.models")
