"""The door: one-time links, devices, and forms that went stale."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.refusals import Refusal
from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.pages import paged, toast
from hidewright.workshop.shop import door as steps
from hidewright.workshop.shop.models import Device


@require_http_methods(["GET", "POST"])
@once
def come_in(request: HttpRequest, token: str) -> HttpResponse:
    """GET shows the door (so that a link preview uses nothing up); POST opens it once."""
    if request.method == "GET":
        return render(request, "door/come_in.html")
    try:
        device = steps.open_link(token, request.POST.get("name", ""))
    except Refusal as refusal:
        return render(request, "door/shut.html", {"refusal": refusal}, status=403)
    request.session.flush()
    request.session["device"] = device.pk
    return redirect("jobs")


@require_http_methods(["GET"])
def devices(request: HttpRequest) -> HttpResponse:
    """The devices that are in, and a way to let another in."""
    link = request.session.pop("new_link", None)
    address = request.build_absolute_uri(link) if link else ""
    return render(
        request, "door/devices.html", {"devices": paged(request, Device.objects.all()), "link": address}
    )


@require_POST
@once
def new_link(request: HttpRequest) -> HttpResponse:
    """Make a link for another device; it is shown once."""
    request.session["new_link"] = steps.make_link()
    return redirect("devices")


@require_POST
@once
def shut_out(request: HttpRequest, device_id: int) -> HttpResponse:
    """Shut a device out."""
    if steps.shut_out(device_id):
        toast(request, "The device is shut out.")
    return redirect("devices")


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose hidden check does not fit this device: nothing was changed; load it again."""
    return render(request, "door/stale.html", status=403)


urlpatterns = [
    path("door/<str:token>/", come_in, name="come_in"),
    path("devices/", devices, name="devices"),
    path("devices/link/", new_link, name="new_link"),
    path("devices/<int:device_id>/shut-out/", shut_out, name="shut_out"),
]
