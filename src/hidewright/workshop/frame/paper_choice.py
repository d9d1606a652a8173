"""On which sheet a paper is printed: what the address asks for, else what is usual with the shop's units."""

from django.http import HttpRequest

from hidewright.papers.paper_size import SIZES
from hidewright.workshop.frame.prints import paper_size


def paper_of(request: HttpRequest) -> str:
    """The sheet named by `paper` in the address where it is one; else Letter for a shop with US units, A4 for others."""
    asked = request.GET.get("paper", "")
    return asked if asked in SIZES else paper_size()
