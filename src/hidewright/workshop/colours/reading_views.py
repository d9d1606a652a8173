"""Readings looked at more closely: the target shifted, two readings compared, a colour off a photo."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from hidewright.colour.reading.photo import KnownPatch, Patch
from hidewright.refusals import Refusal
from hidewright.workshop.colours import actions as steps
from hidewright.workshop.colours import queries as gather
from hidewright.workshop.colours import swatches
from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.forms import NumberField, refuse
from hidewright.workshop.frame.pages import job_page, number_of, to_colour_page, toast, toast_last
from hidewright.workshop.frame.pictures import keep_picture, picture_path
from hidewright.workshop.shop.models import Job

PATCHES = 10
"""Known patches that can be marked on a photo: one grey card, and up to five more."""
WAYS = [
    ("lighter", "lighter, L*"),
    ("neutral", "more neutral, %"),
    ("toward", "toward a reading, %"),
]


class ShiftForm(forms.Form):
    """Which way the target goes, and how far."""

    way = forms.ChoiceField(label="Way", choices=WAYS)
    amount = NumberField(
        label="How far", min_value=-60, max_value=100, help_text="Below 0: darker, or cleaner."
    )
    swatch = forms.TypedChoiceField(label="Toward", coerce=int, empty_value=None, required=False)

    def __init__(self, *args: Any, readings: list[gather.ReadingValue], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["swatch"].choices = [("", "–"), *((r.id, r.name) for r in readings)]  # type: ignore[attr-defined]


class CompareForm(forms.Form):
    """Two readings."""

    first = forms.TypedChoiceField(label="This", coerce=int)
    second = forms.TypedChoiceField(label="Against this", coerce=int)

    def __init__(self, *args: Any, readings: list[gather.ReadingValue], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("first", "second"):
            self.fields[name].choices = [(r.id, r.name) for r in readings]  # type: ignore[attr-defined]


class PhotoForm(forms.Form):
    """A photo with a grey card in it."""

    photo = forms.FileField(label="Photo", widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png"}))


class PatchForm(forms.Form):
    """One patch on the photo, and what is known of it: the corners in per cent of the picture."""

    box = forms.CharField(
        label="Where: left, top, right, bottom, %",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    l = NumberField(label="L*", required=False)  # noqa: E741
    a = NumberField(label="a*", required=False)
    b = NumberField(label="b*", required=False)

    def patch(self, what: str) -> Patch | None:
        """The rectangle; None where nothing was marked."""
        text = self.cleaned_data.get("box", "").replace(",", " ").split()
        if not text:
            return None
        try:
            left, top, right, bottom = (float(part) / 100 for part in text)
        except ValueError:
            raise Refusal(
                f"Where {what} lies cannot be read.", where="patch", remedy="Draw it again."
            ) from None
        return Patch(left, top, right, bottom)

    def known(self, number_: int) -> KnownPatch | None:
        """The patch with its colour; None where nothing was marked."""
        patch = self.patch(f"known patch {number_}")
        if patch is None:
            return None
        lab = [self.cleaned_data.get(name) for name in ("l", "a", "b")]
        if any(value is None for value in lab):
            raise Refusal(
                f"Known patch {number_} needs its L*, a*, b*.",
                where="reference card",
                remedy="They are on the card or in its papers (D65, 2°).",
            )
        return KnownPatch(patch, lab)  # type: ignore[arg-type]


class PhotoNameForm(forms.Form):
    """What the photo shows."""

    name = forms.CharField(label="What is the leather?", max_length=120)


@require_http_methods(["GET", "POST"])
@once
def shift(request: HttpRequest, job_id: int) -> HttpResponse:
    """Shift the target: looking at it first, then aiming at it."""
    job = get_object_or_404(Job, pk=job_id)
    aimed = gather.target(job, number_of(request))
    if aimed is None:
        raise Refusal("There is no target to shift.", remedy="Pick one on the page Colour first.")
    readings = gather.readings(job)
    sent = request.POST if request.method == "POST" else request.GET
    form = ShiftForm(
        sent if "way" in sent else None, readings=readings, initial={"way": "lighter", "amount": 1}
    )
    shown = new = None
    if form.is_bound and form.is_valid():
        data = form.cleaned_data
        swatch = next((r for r in readings if r.id == data["swatch"]), None)
        try:
            if request.method == "POST":
                steps.shift_target(job, data["way"], data["amount"], swatch, number_of(request))
                toast_last(request, job)
                return to_colour_page(request, "colour", job)
            new = steps.shifted(aimed, data["way"], data["amount"], swatch)
            shown = swatches.shift_shown(aimed, new.reflectance, new.delta_e)
        except Refusal as refusal:
            refuse(
                form, refusal, {"lighter": "amount", "neutral": "amount", "toward": "swatch", "Way": "way"}
            )
    context = {
        "aimed": aimed,
        "form": form,
        "shown": shown,
        "new": new,
        "chosen": gather.choice_row(job, number_of(request)),
        "asked": form.cleaned_data if shown else {},
    }
    return job_page(request, job, "colour", "colour/shift.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET"])
def compare_two(request: HttpRequest, job_id: int) -> HttpResponse:
    """Two readings side by side: swatches under each light, ΔE00, curves, and whether they may be compared."""
    job = get_object_or_404(Job, pk=job_id)
    readings = gather.readings(job)
    start = {"first": readings[0].id, "second": readings[-1].id} if readings else {}
    form = CompareForm(request.GET if "first" in request.GET else None, readings=readings, initial=start)
    shown = None
    if form.is_bound and form.is_valid():
        by_id = {r.id: r for r in readings}
        first, second = (by_id[form.cleaned_data[name]] for name in ("first", "second"))
        shown = swatches.comparison(first, second)
    context = {"form": form, "shown": shown, "readings": readings}
    return job_page(
        request, job, "colour", "colour/compare.html", context, status=422 if form.errors else 200
    )


@require_http_methods(["GET", "POST"])
@once
def photo(request: HttpRequest, job_id: int) -> HttpResponse:
    """Bring a photo."""
    job = get_object_or_404(Job, pk=job_id)
    form = PhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        upload: UploadedFile[bytes] = form.cleaned_data["photo"]
        try:
            name = keep_picture(upload, quality=97)
        except Refusal as refusal:
            refuse(form, refusal)
        else:
            return redirect("pick_patches", job_id=job.pk, picture=name.removesuffix(".jpg"))
    return job_page(
        request, job, "colour", "colour/photo.html", {"form": form}, status=422 if form.errors else 200
    )


@require_http_methods(["GET", "POST"])
@once
def pick_patches(request: HttpRequest, job_id: int, picture: str) -> HttpResponse:
    """Mark the leather and the known patches on a photo, and keep the colour."""
    job = get_object_or_404(Job, pk=job_id)
    where = picture_path(f"{picture}.jpg")
    sent = request.POST if request.method == "POST" else None
    name = PhotoNameForm(sent)
    sample = PatchForm(sent, prefix="sample")
    known = [
        PatchForm(sent, prefix=f"known{n}", initial={"l": 49.5, "a": 0, "b": 0} if n == 1 else None)
        for n in range(1, PATCHES + 1)
    ]
    if sent is not None and all(form.is_valid() for form in (name, sample, *known)):
        try:
            here = sample.patch("the leather")
            if here is None:
                raise Refusal("The leather is not marked.", where="patch", remedy="Draw a rectangle on it.")
            patches = [k for n, form in enumerate(known, 1) if (k := form.known(n)) is not None]
            _, found = steps.keep_photo(job, where.read_bytes(), here, patches, name.cleaned_data["name"])
        except Refusal as refusal:
            refuse(name, refusal)
        else:
            toast_last(request, job)
            spread = f"{found.reading.colour.covariance[0, 0] ** 0.5:.1f}" if found.reading.colour else ""
            toast(request, f"Read by {found.method}; it may be off by about {spread} CIELAB units each way.")
            return to_colour_page(request, "colour", job)
    wrong = any(form.errors for form in (name, sample, *known))
    context = {
        "picture": picture,
        "name_form": name,
        "sample_form": sample,
        "known_forms": known,
        "wrong": wrong,
    }
    return job_page(request, job, "colour", "colour/patches.html", context, status=422 if wrong else 200)


@require_http_methods(["GET"])
def photo_picture(request: HttpRequest, job_id: int, picture: str) -> HttpResponseBase:
    """The photo itself."""
    get_object_or_404(Job, pk=job_id)
    answer = FileResponse(picture_path(f"{picture}.jpg").open("rb"), content_type="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=86400"
    return answer


urlpatterns = [
    path("jobs/<int:job_id>/colour/shift/", shift, name="shift_target"),
    path("jobs/<int:job_id>/colour/compare/", compare_two, name="compare_readings"),
    path("jobs/<int:job_id>/colour/photo/", photo, name="photo"),
    path("jobs/<int:job_id>/colour/photo/<slug:picture>/", pick_patches, name="pick_patches"),
    path("jobs/<int:job_id>/colour/photo/<slug:picture>/picture.jpg", photo_picture, name="photo_picture"),
]
