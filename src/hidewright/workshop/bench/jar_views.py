"""Jars: what is left over, kept with its formula as poured, its day and its label; and made again months later."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.dates import long_day
from hidewright.papers.jar_label import JarLabel, jar_labels_pdf
from hidewright.refusals import Refusal
from hidewright.safety.cautions import Operation, beside
from hidewright.workshop.bench import forms as fields
from hidewright.workshop.bench import jar_actions as jar_steps
from hidewright.workshop.bench import load_actions as portions
from hidewright.workshop.bench import touch_up_actions as touch_ups
from hidewright.workshop.bench.on_pieces_queries import on_pieces
from hidewright.workshop.bench.remake_queries import remake
from hidewright.workshop.bench.touch_up_queries import like_it, smallest_honest
from hidewright.workshop.colours.batch_queries import batch_of, newer_batch
from hidewright.workshop.colours.eye_forms import EyeForm
from hidewright.workshop.colours.shop_queries import colour_of
from hidewright.workshop.frame.acts import NotDone, once, submitted, tried
from hidewright.workshop.frame.forms import made
from hidewright.workshop.frame.pages import (
    device_of,
    paged,
    pdf_answer,
    toast,
    toast_last,
    token_of,
    went,
    whole,
)
from hidewright.workshop.frame.paper_choice import paper_of
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf import vessel_queries as gather
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


@require_http_methods(["GET"])
def jars(request: HttpRequest) -> HttpResponse:
    """Every jar on the shelf."""
    page = paged(request, gather.kept_jars())
    shown = {"jars": gather.jars(list(page)), "page": page, "cautions": beside(Operation.JAR)}
    return render(request, "jars/list.html", shown)


@require_http_methods(["GET"])
def jar(request: HttpRequest, jar_id: int) -> HttpResponse:
    """One jar: what is in it, where it came from, and what can be done with it."""
    return _page(request, _find(jar_id))


def _find(jar_id: int) -> MixVessel:
    return get_object_or_404(MixVessel.objects.select_related("job"), pk=jar_id, kind=MixVessel.Kind.JAR)


def _page(
    request: HttpRequest,
    row: MixVessel,
    *,
    status: int = 200,
    failed: str = "",
    form: forms.Form | None = None,
    refusal: Refusal | None = None,
) -> HttpResponse:
    ready: dict[str, forms.Form] = {
        "again": fields.AgainForm(_jobs(), initial={"job": row.job_id}),
        "pour": fields.JarPourForm(_cups()),
        "discard": fields.AmountForm(),
        "until": fields.KeepUntilForm(initial={"until": row.keep_until}),
    }
    if form is not None:
        ready[failed] = form
    kept = gather.jar_of(row)
    newer = newer_batch(row) if kept.state.volume else None
    context = {
        "jar": kept,
        "batch": batch_of(row) if kept.state.volume else None,
        "newer": newer,
        "on_pieces": on_pieces(row.job, row.colour_number, (row,)) if row.job else (),
        "held": [_held_against(cup) for cup in like_it(row)],
        "remake": remake(row) if kept.state.volume else None,
        "lines": gather.lines_of(row),
        "forms": ready,
        "failed": failed,
        "refused": refusal,
        "address": request.build_absolute_uri(reverse("jar", args=[row.pk])),
        "cautions": beside(Operation.JAR),
        "has_cups": bool(_cups()),
        "usual": touch_ups.USUAL,
        "smallest": smallest_honest(row, newer) if kept.state.volume else None,
        "balance": the_shop().balance_step,
        "shop_colour": colour_of(row.job, row.colour_number) if row.job else None,
        "open_jobs": _jobs(),
    }
    return render(request, "jars/jar.html", context, status=status)


def _held_against(cup: MixVessel) -> tuple[MixVessel, EyeForm]:
    """A cup that makes the jar again, with the form that says what an eye sees of the two."""
    return cup, EyeForm(prefix="eye", vessel=cup, auto_id=f"cup{cup.pk}_%s")


def _jobs() -> list[tuple[int, str]]:
    return [(job.pk, job.name) for job in Job.objects.filter(put_away=None)]


def _cups() -> list[tuple[int, str]]:
    rows = MixVessel.objects.filter(kind=MixVessel.Kind.CUP, put_away=None).select_related("job")
    return [(row.pk, f"{row.name}, {row.job.name if row.job else ''}") for row in rows]


@require_http_methods(["GET"])
def label(request: HttpRequest, jar_id: int) -> HttpResponse:
    """The jar's label as PDF, with a QR code that leads to its page."""
    row = _find(jar_id)
    told = jar_label(row, request.build_absolute_uri(reverse("jar", args=[row.pk])))
    pdf = jar_labels_pdf(
        (told,), job=told.job or "Jars", made_on=timezone.localdate(), paper=paper_of(request)
    )
    return pdf_answer(pdf, f"{row.name} label")


def jar_label(row: MixVessel, page_url: str) -> JarLabel:
    """What stands on a jar's label: its batch, what is in it, until when it keeps."""
    kept = gather.jar_of(row)
    named = ", ".join(f"{line.name} {100 * line.share:.1f} %{_lots(line.lots)}" for line in kept.state.lines)
    until = f" Keep until {long_day(row.keep_until)}." if row.keep_until else ""
    batch = batch_of(row)
    return JarLabel(
        code=row.name,
        colour=(row.plan or {}).get("name") or row.name,
        job=kept.job,
        volume_ml=kept.state.volume,
        mixed_on=row.kept_on or timezone.localdate(row.made),
        hex=kept.hex,
        contents=f"{f'Of {batch.vessel.name}. ' if batch else ''}{named}, by volume as poured.{until}",
        page_url=page_url,
        units=the_shop().units,
    )


def _lots(lots: tuple[str, ...]) -> str:
    return f" (lot {', '.join(lots)})" if lots else ""


@require_POST
@once
def again(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Begin a cup that makes again what is in the jar."""
    row = _find(jar_id)
    form = fields.AgainForm(_jobs(), request.POST)

    def begin(told: dict[str, Any]) -> MixVessel:
        return jar_steps.mix_again(
            row,
            get_object_or_404(Job, pk=told["job"]),
            told["aim"],
            name=f"{row.name[:45]} again",
            as_poured=told["as_poured"],
            device=device_of(request),
        )

    cup = made(form, begin)
    if cup is None:
        raise NotDone(_page, request, row, status=422, failed="again", form=form)
    toast_last(request, cup.job)
    return redirect("vessel", job_id=cup.job_id, vessel_id=cup.pk)


def _to_cup(request: HttpRequest, cup: MixVessel) -> HttpResponse:
    toast_last(request, cup.job)
    return redirect("vessel", job_id=cup.job_id, vessel_id=cup.pk)


@require_POST
@once
def mix_jar_again(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Begin 100 mL like the jar, from today's lots, held against the jar."""
    row = _find(jar_id)
    return tried(
        lambda: touch_ups.mix_from_jar(row, device=device_of(request)),
        lambda cup: _to_cup(request, cup),
        lambda refusal: _page(request, row, status=422, refusal=refusal),
    )


@require_POST
@once
def touch_up_jar(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Begin the smallest honest cup like what is on the pieces, by the batch that is chosen where they are several."""
    row = _find(jar_id)
    batch = whole(request.POST.get("batch", ""), None)
    return tried(
        lambda: touch_ups.touch_up(row, batch=batch, device=device_of(request)),
        lambda cup: _to_cup(request, cup),
        lambda refusal: _page(request, row, status=422, refusal=refusal),
    )


@require_POST
@once
def job_of_jar(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Open a job whose colour is that of the jar."""
    row = _find(jar_id)
    return tried(
        lambda: touch_ups.open_touch_up(row, device=device_of(request)),
        lambda job: redirect("job", job_id=job.pk),
        lambda refusal: _page(request, row, status=422, refusal=refusal),
    )


@require_POST
@once
def target_of_jar(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Aim a job at the jar's colour."""
    row = _find(jar_id)
    job = get_object_or_404(Job, pk=whole(request.POST.get("job", ""), 0), put_away=None)
    return tried(
        lambda: touch_ups.aim_at_jar(row, job, device=device_of(request)),
        lambda _: redirect("colour", job_id=job.pk),
        lambda refusal: _page(request, row, status=422, refusal=refusal),
    )


@require_POST
@once
def pour_jar(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Pour some of a jar, or of a cup that stands open, into a cup."""
    of = (MixVessel.Kind.JAR, MixVessel.Kind.CUP)
    row = get_object_or_404(MixVessel.objects.select_related("job"), pk=jar_id, kind__in=of, put_away=None)
    form = fields.JarPourForm(_cups(), request.POST)

    def into(told: dict[str, Any]) -> MixVessel:
        cup = get_object_or_404(MixVessel, pk=told["vessel"], kind=MixVessel.Kind.CUP)
        jar_steps.from_jar(row, cup, told["amount"], token=token_of(request), device=device_of(request))
        return cup

    cup = made(form, into)
    if cup is None and row.kind == MixVessel.Kind.CUP:
        raise NotDone(lambda: _not_poured(request, row, form))
    if cup is None:
        raise NotDone(_page, request, row, status=422, failed="pour", form=form)
    toast_last(request, row.job)
    return redirect("vessel", job_id=cup.job_id, vessel_id=cup.pk)


def _not_poured(request: HttpRequest, row: MixVessel, form: forms.Form) -> HttpResponse:
    """Back to the cup that was to be poured out of, with what hindered it."""
    toast(request, "Nothing was poured. " + " ".join(str(w) for each in form.errors.values() for w in each))
    return redirect("vessel", job_id=row.job_id, vessel_id=row.pk)


@require_POST
@once
def jar_until(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Keep a jar until another day."""
    row = _find(jar_id)
    form = fields.KeepUntilForm(request.POST)
    return submitted(
        form,
        lambda cleaned: jar_steps.keep_until_day(row, cleaned["until"], device=device_of(request)),
        lambda _: went(request, row.job, "jar", jar_id=row.pk),
        lambda: _page(request, row, status=422, failed="until", form=form),
        {"Keep until": "until"},
    )


@require_POST
@once
def discard_jar(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Throw some or all of the jar away."""
    row = _find(jar_id)
    form = fields.AmountForm(request.POST)
    return submitted(
        form,
        lambda told: portions.discard(
            row,
            told["amount"],
            note=told["note"],
            token=token_of(request),
            device=device_of(request),
        ),
        lambda _: went(request, row.job, "jar", jar_id=row.pk),
        lambda: _page(request, row, status=422, failed="discard", form=form),
    )


@require_POST
@once
def put_jar_away(request: HttpRequest, jar_id: int) -> HttpResponse:
    """Take an empty jar off the shelf."""
    row = _find(jar_id)
    try:
        steps.put_away(row, device=device_of(request))
    except Refusal as refusal:
        raise NotDone(_page, request, row, status=422, refusal=refusal) from refusal
    toast_last(request, row.job)
    return redirect("jars")


urlpatterns = [
    path("jars/", jars, name="jars"),
    path("jars/<int:jar_id>/", jar, name="jar"),
    path("jars/<int:jar_id>/label.pdf", label, name="jar_label_pdf"),
    path("jars/<int:jar_id>/again/", again, name="jar_again"),
    path("jars/<int:jar_id>/mix/", mix_jar_again, name="mix_jar_again"),
    path("jars/<int:jar_id>/touch-up/", touch_up_jar, name="touch_up_jar"),
    path("jars/<int:jar_id>/job/", job_of_jar, name="job_of_jar"),
    path("jars/<int:jar_id>/target/", target_of_jar, name="target_of_jar"),
    path("jars/<int:jar_id>/pour/", pour_jar, name="pour_jar"),
    path("jars/<int:jar_id>/discard/", discard_jar, name="discard_jar"),
    path("jars/<int:jar_id>/until/", jar_until, name="jar_until"),
    path("jars/<int:jar_id>/put-away/", put_jar_away, name="put_jar_away"),
]
