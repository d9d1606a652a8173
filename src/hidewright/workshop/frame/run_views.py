"""Long computations seen from the page: progress, stop."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.pages import back_to, toast
from hidewright.workshop.shop.models import Run
from hidewright.workshop.shop.runs import stop_run


@require_http_methods(["GET"])
def run_panel(request: HttpRequest, run_id: int) -> HttpResponse:
    """The panel that a page polls; when the run has ended the whole page is asked to load again."""
    run = get_object_or_404(Run, pk=run_id)
    response = render(request, "runs/panel.html", {"run": run})
    if not run.live:
        response.headers["HX-Refresh"] = "true"
    return response


@require_POST
@once
def stop(request: HttpRequest, run_id: int) -> HttpResponse:
    """Stop a run with its best so far."""
    if stop_run(run_id):
        toast(request, "Stopping. The best so far is kept.")
    if getattr(request, "htmx", False):
        return render(request, "runs/panel.html", {"run": get_object_or_404(Run, pk=run_id)})
    return back_to(request)


urlpatterns = [
    path("runs/<int:run_id>/", run_panel, name="run_panel"),
    path("runs/<int:run_id>/stop/", stop, name="stop_run"),
]
