"""The letter to whoever must act on a snag: what is wrong with which piece, what is asked for, by when."""

from dataclasses import dataclass
from datetime import date

from hidewright.dates import long_day
from hidewright.papers.record import Record, RecordPart, RecordPicture
from hidewright.refusals import Refusal


@dataclass(frozen=True)
class SnagLetter:
    """What a letter about one snag says. `word` is the shop's own word for a snag."""

    shop: str
    job: str
    word: str
    to: str
    what: str
    piece: str
    made_on: date
    weight: str = ""
    by: date | None = None
    note: str = ""
    picture: RecordPicture | None = None
    paper: str = "a4"

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise Refusal("The letter does not say what is wrong.", where=self.job)

    @property
    def subject(self) -> str:
        """The line above it."""
        return f"{self.word.capitalize()} on {self.job}" + (f": {self.piece}" if self.piece else "")

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """What it says, paragraph by paragraph."""
        where = f"On {self.piece} of {self.job}" if self.piece else f"On {self.job}"
        found = [f"{where} we found: {self.what.rstrip(' .')}."]
        if self.weight:
            found.append(self.weight)
        if self.note:
            found.append(self.note)
        ask = "Please tell us what is to be done"
        found.append(f"{ask} by {long_day(self.by)}." if self.by else f"{ask}, and by when.")
        return tuple(found)

    def text(self) -> str:
        """The letter as text to send."""
        greeting = f"To {self.to}" if self.to else "To whom it concerns"
        return "\n\n".join((greeting, *self.paragraphs, f"{self.shop}\n{long_day(self.made_on)}"))

    def record(self) -> Record:
        """The letter as a paper."""
        picture = (self.picture,) if self.picture else ()
        return Record(
            title="Letter",
            job=self.job,
            headline=self.subject,
            made_on=self.made_on,
            lines=(f"To {self.to}" if self.to else "", f"From {self.shop}", long_day(self.made_on)),
            parts=(RecordPart("", self.paragraphs, pictures=picture),),
            to_sign=(f"For {self.shop}",),
            paper=self.paper,
            letter=True,
        )
