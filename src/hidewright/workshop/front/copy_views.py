"""Copies of everything: one to save elsewhere, those the shop keeps itself, and bringing one back into a new shop."""

from django import forms
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.dates import show_moment
from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.forms import made
from hidewright.workshop.frame.pages import device_of, toast
from hidewright.workshop.front import copy_actions as steps
from hidewright.workshop.front import copy_queries as gather
from hidewright.workshop.front.copy_file import holds
from hidewright.workshop.shop.door import the_shop


class BackForm(forms.Form):
    """A copy to bring back."""

    file = forms.FileField(label="Copy", widget=forms.FileInput(attrs={"accept": ".zip,application/zip"}))


@require_http_methods(["GET"])
def copies(request: HttpRequest) -> HttpResponse:
    """What is copied, and where the copies are."""
    return _page(request, BackForm())


def _page(request: HttpRequest, form: BackForm, status: int = 200) -> HttpResponse:
    shown = {"kept": gather.kept_copies(), "empty": not holds(), "form": form}
    return render(request, "shop/copies.html", shown, status=status)


@require_http_methods(["GET"])
def everything(request: HttpRequest) -> FileResponse:
    """A fresh copy, to be saved on this device."""
    name = f"{slugify(the_shop().name) or 'shop'}-{timezone.localtime():%Y-%m-%d-%H%M}.zip"
    return FileResponse(steps.fresh_copy(), as_attachment=True, filename=name)


@require_http_methods(["GET"])
def kept_copy(request: HttpRequest, name: str) -> FileResponse:
    """One of the copies that the shop keeps."""
    return FileResponse(gather.copy_path(name).open("rb"), as_attachment=True, filename=f"shop-{name}.zip")


@require_POST
@once
def bring_back(request: HttpRequest) -> HttpResponse:
    """Bring a copy back into a shop that holds nothing yet; this device stays in."""
    form = BackForm(request.POST, request.FILES)
    device = device_of(request)
    name = device.name if device else "A device"
    back = made(form, lambda told: steps.bring_back(told["file"].file, device_name=name))
    if back is None:
        return _page(request, form, 422)
    about, let_in = back
    request.session.flush()
    if let_in is not None:
        request.session["device"] = let_in.pk
    toast(request, f"All is back as it was on {show_moment(timezone.localtime(about.made))}.")
    return redirect("jobs")


urlpatterns = [
    path("shop/copies/", copies, name="copies"),
    path("shop/copies/everything.zip", everything, name="copy_now"),
    path("shop/copies/<slug:name>.zip", kept_copy, name="kept_copy"),
    path("shop/copies/back/", bring_back, name="bring_back"),
]
