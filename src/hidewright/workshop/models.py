"""The tables of the database: the rows of every subject."""

import importlib

SUBJECTS = (
    "shop", "cards", "lists", "shelf", "pigments", "pieces", "intake", "colours", "room", "quantities", "days", "sessions",
    "inspection", "credentials", "papers", "approvals", "handover", "account", "calls",
)  # fmt: skip
for _subject in SUBJECTS:
    importlib.import_module(f"hidewright.workshop.{_subject}.models")
