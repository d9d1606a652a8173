"""The worker that keeps the bench's pages on a device for when the network is away."""

from pathlib import Path

from django.http import HttpRequest, HttpResponse
from django.urls import path
from django.views.decorators.http import require_GET

WORKER = Path(__file__).resolve().parents[1] / "static" / "offline.js"


@require_GET
def offline(request: HttpRequest) -> HttpResponse:
    """The worker's script: it answers at the root, since a worker only looks after the addresses below its own."""
    return HttpResponse(
        WORKER.read_bytes(),
        content_type="text/javascript; charset=utf-8",
        headers={"Cache-Control": "no-cache"},
    )


urlpatterns = [path("offline.js", offline, name="offline")]
