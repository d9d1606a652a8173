"""The account as a paper to invoice from, as a list for a spreadsheet, and as parts of the closing paper."""

from datetime import date

from hidewright.dates import show_day
from hidewright.money import show_money
from hidewright.papers.record import Record, RecordPart, RecordTable
from hidewright.sheets import SheetWriter
from hidewright.workshop.account import queries as gather
from hidewright.workshop.papers.quote_queries import lessons
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job

NO_INVOICE = "An account of the work to write the invoice from. It is no invoice: numbers, days and tax follow your own rules."


def account_record(job: Job, *, made_on: date, paper: str, page_url: str = "") -> Record:
    """What is to be invoiced of a job, and when it was handed over."""
    shop = the_shop()
    delivered = gather.deliveries(job)
    return Record(
        title="Account",
        job=job.name,
        headline="Account of the work",
        made_on=made_on,
        lines=(job.client and f"For {job.client}", job.registration, shop.name),
        parts=(
            to_invoice(job),
            *((RecordPart("Handed over", delivered),) if delivered else ()),
        ),
        cautions=(NO_INVOICE,),
        paper=paper,
        page_url=page_url,
    )


def to_invoice(job: Job) -> RecordPart:
    """The lines to invoice with their sums."""
    found, sign = gather.account(job), the_shop().currency
    rows = [(words, show_money(amount, sign)) for words, amount in found.rows]
    rows.append(("Before tax", show_money(found.net, sign)))
    if found.tax_rate:
        rows.append((f"{found.tax_name} {found.percent}", show_money(found.tax, sign)))
        rows.append(("With tax", show_money(found.total, sign)))
    lines = () if found.quote else ("No quote was given.",)
    return RecordPart("To invoice", lines, RecordTable(("What", "Money"), tuple(rows), (4, 1)))


def account_csv(job: Job) -> str:
    """The lines to invoice as CSV: what, money before tax, tax rate."""
    found, sheet = gather.account(job), SheetWriter()
    sheet.writerow(("what", "money before tax", "tax rate"))
    for words, amount in found.rows:
        sheet.writerow((words, f"{amount:.2f}", f"{found.tax_rate:f}"))
    return sheet.getvalue()


def after_parts(job: Job) -> tuple[RecordPart, ...]:
    """What a closing paper says of the time after: actual against quote, what was learned, claims. What the customer pays is not on it."""
    found = []
    if lines := gather.compared(job):
        head = ("What", "Quoted", "Came to", "")
        rows = tuple((each.what, each.quoted, each.actual, each.words) for each in lines)
        found.append(
            RecordPart("Actual against the quote", table=RecordTable(head, rows, (1.4, 2.2, 2.6, 1)))
        )
    if taught := lessons(job):
        found.append(RecordPart("What it taught", tuple(each.text for each in taught)))
    if kept := gather.claims(job):
        ended = tuple(
            (str(row.number), show_day(row.day), row.what, ", ".join(row.pieces), _ended(row.whose, row.outcome))
            for row in reversed(kept)
        )  # fmt: skip
        table = RecordTable(
            ("Claim", "Day", "What", "Pieces", "How it ended"), ended, (0.6, 1.1, 2.6, 1.6, 2)
        )
        found.append(RecordPart("Claims and later damage", table=table))
    return tuple(found)


def _ended(whose: str, outcome: str) -> str:
    words = gather.WHOSE.get(whose, whose)
    return f"{words}. {outcome}" if outcome else words
