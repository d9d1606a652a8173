"""The tables of the database: the rows of every subject."""

import importlib

SUBJECTS = (
    "shop", "cards", "shelf", "pigments", "colours", "room", "pieces", "quantities", "days", "inspection", "credentials",
)  # fmt: skip
for _subject in SUBJECTS:
    importlib.import_module(f"hidewright.workshop.{_subject}.models")
