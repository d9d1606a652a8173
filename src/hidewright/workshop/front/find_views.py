"""The page of what the field at the top found."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_GET

from hidewright.workshop.front.find_queries import find as find_in_shop


@require_GET
def find(request: HttpRequest) -> HttpResponse:
    """Everything in the shop that fits what was written."""
    text = request.GET.get("q", "").strip()[:80]
    return render(request, "find/page.html", {"q": text, "kinds": find_in_shop(text)})


urlpatterns = [path("find/", find, name="find")]
