"""One thing that is wrong with the shop's data, in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trouble:
    """`name` is short and stays the same (`database-page`); `words` say what is wrong, `remedy` what to do."""

    name: str
    words: str
    remedy: str

    def __post_init__(self) -> None:
        if not (self.name and self.words and self.remedy):
            raise ValueError("a trouble has a name, words and a remedy")

    def __str__(self) -> str:
        return f"{self.name}: {self.words} {self.remedy}"
