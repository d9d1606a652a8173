"""Refusals: what is wrong, where it is, and what to do about it.

Every value of the domain refuses bad input at construction by raising `Refusal`; pages and commands show the
three parts as they are. A file with several faults raises one `Refusals` that carries them all.
"""

from collections.abc import Iterable


class Refusal(ValueError):
    """One thing that cannot be accepted.

    `what` says what is wrong, `where` names the place (a field, or "line 7, column width"), `remedy` says what to
    do. All three are plain text for a person.
    """

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        self.what = what
        self.where = where
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        advice = f" {self.remedy}" if self.remedy else ""
        return f"{place}{self.what}{advice}"


class Refusals(Refusal):
    """Several refusals found together, in the order of the file; `items` is never empty."""

    def __init__(self, items: Iterable[Refusal], *, what: str = "") -> None:
        self.items = tuple(items)
        if not self.items:
            raise ValueError("Refusals needs at least one Refusal")
        count = len(self.items)
        super().__init__(what or f"{count} thing{'s' if count > 1 else ''} must be put right first.")

    def __str__(self) -> str:
        return "\n".join([self.what, *(f"  {item}" for item in self.items)])
