"""Files to fill in: those of the demonstration, all invented, to see how a list is laid out."""

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.http import require_GET

from hidewright.demo import text

EXAMPLES = ("pigments", "drawdowns", "readings", "products", "tables", "hours", "people", "absences")


@require_GET
def example(request: HttpRequest, name: str) -> HttpResponse:
    """One example file."""
    if name not in EXAMPLES:
        raise Http404(f"There is no example called {name}.")
    answer = HttpResponse(text(f"{name}.csv"), content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = f'attachment; filename="example-{name}.csv"'
    return answer


urlpatterns = [path("examples/<slug:name>.csv", example, name="example")]
