"""Paper for the bench: plain data in, PDF out.

Each paper is a frozen dataclass that says what stands on it. Python formats every number; the data reaches the
Typst template as JSON, so that whatever a user typed stays text. The same content gives the same bytes.
"""
