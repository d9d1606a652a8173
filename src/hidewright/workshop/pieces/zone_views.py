"""The page on which a piece is parted into zones: a short list, one line a zone, in the order in which they are coated."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import path
from django.views.decorators.http import require_http_methods

from hidewright import survey as stage
from hidewright.refusals import Refusal
from hidewright.survey.zones import MOST_ZONES, USUAL_ZONES, Zone, checked_zones, shares, usual_zones
from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.forms import NumberField
from hidewright.workshop.frame.pages import job_page, toast_last, whole
from hidewright.workshop.pieces import queries as gather
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.pieces.zone_actions import coat_in_zones
from hidewright.workshop.pieces.zone_queries import alike, begun
from hidewright.workshop.shop.models import Job

FREE = 1
"""Empty lines below the zones, to add some."""


class ZonesForm(forms.Form):
    """The zones of one piece, a line each: what has no name is left out."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    others = forms.BooleanField(required=False)

    def __init__(
        self, *args: Any, zones: Sequence[Zone], piece: stage.Piece, others: int, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.lines = min(MOST_ZONES, len(zones) + FREE)
        if self.is_bound:
            sent = (n for n in range(MOST_ZONES) if f"name-{n}" in self.data)
            self.lines = max(self.lines, max(sent, default=-1) + 1)
        self.fields["others"].label = f"Coat the {others} others of this shape and size in the same zones"
        for n in range(self.lines):
            zone = zones[n] if n < len(zones) else None
            self._line(n, zone, sat_on=piece.sat_on)

    def _line(self, n: int, zone: Zone | None, *, sat_on: bool) -> None:
        made: dict[str, forms.Field] = {
            "name": forms.CharField(label="What is coated", max_length=40, required=False),
            "share": NumberField(
                label="Share, %",
                min_value=0.1,
                max_value=100,
                required=False,
                help_text="Empty: what is left." if not n else "",
            ),
            "masked": forms.CharField(label="Masked or held up meanwhile", max_length=120, required=False),
            "masking": forms.IntegerField(
                label="Masking, min",
                min_value=1,
                max_value=480,
                required=False,
                help_text="Empty: the shop’s pace." if not n else "",
            ),
            "moved": forms.BooleanField(label="Turned or set up otherwise before it", required=False),
            "sat_on": forms.BooleanField(label="Sat on", required=False),
        }
        if zone is not None:
            made["name"].initial, made["share"].initial = zone.name, f"{100 * zone.share:.4g}"
            made["masked"].initial, made["masking"].initial = zone.masked, zone.masking
            made["moved"].initial = zone.moved
        made["sat_on"].initial = zone is None or zone.sat_on
        if not n:
            del made["moved"]
        if not sat_on:
            del made["sat_on"]
        for name, field in made.items():
            field.widget.attrs["autocomplete"] = "off"
            self.fields[f"{name}-{n}"] = field

    @property
    def rows(self) -> list[list[forms.BoundField]]:
        """The fields line by line."""
        return [
            [self[f"{name}-{n}"] for name in ("name", "share", "masked", "masking", "moved", "sat_on") if f"{name}-{n}" in self.fields]
            for n in range(self.lines)
        ]  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Make the zones, as `zones`."""
        data = super().clean() or {}
        if not self.errors:
            try:
                data["zones"] = checked_zones(self._zones(data))
            except Refusal as refusal:
                self.add_error(None, f"{refusal.what} {refusal.remedy}".strip())
        return data

    def _zones(self, data: dict[str, Any]) -> list[Zone]:
        named = [n for n in range(self.lines) if data.get(f"name-{n}", "").strip()]
        given = {n: data[f"share-{n}"] / 100 for n in named if data.get(f"share-{n}") is not None}
        open_ = [n for n in named if n not in given]
        left = 1 - sum(given.values())
        if open_ and left <= 0.001:
            raise Refusal("Nothing is left for a zone without a share.", remedy="Make the others smaller.")
        return [
            Zone(
                data[f"name-{n}"].strip(),
                given.get(n, left / max(1, len(open_))),
                data[f"masked-{n}"].strip(),
                data[f"masking-{n}"],
                bool(data.get(f"moved-{n}")),
                bool(data.get(f"sat_on-{n}", True)),
            )
            for n in named
        ]


@require_http_methods(["GET", "POST"])
@once
def piece_zones(request: HttpRequest, job_id: int, piece_id: int) -> HttpResponse:
    """In which zones one piece is coated; posting keeps them, or lets it be coated in one go."""
    job = get_object_or_404(Job, pk=job_id)
    row = get_object_or_404(Piece, pk=piece_id, job=job, removed=None)
    piece, others = gather.value(row), alike(row)
    wanted = whole(request.GET.get("set", ""), len(USUAL_ZONES))
    known = wanted < len(USUAL_ZONES)
    start = USUAL_ZONES[wanted][1] if known else piece.zones or usual_zones(piece.shape)
    form = ZonesForm(
        request.POST if request.method == "POST" else None,
        zones=start,
        piece=piece,
        others=len(others),
        initial={"version": row.version},
    )

    def page(status: int = 200) -> HttpResponse:
        shown = {
            "form": form,
            "row": row,
            "piece": piece,
            "others": others,
            "sets": [(number, words) for number, (words, _) in enumerate(USUAL_ZONES)],
            "begun": row.key in begun(job),
            "areas": [
                (zone.name, share * piece.area)
                for zone, share in zip(piece.zones, shares(piece.zones) if piece.zones else (), strict=True)
            ],
        }
        return job_page(request, job, "survey", "survey/zones.html", shown, status=status)

    if request.method != "POST":
        return page()
    one_go = "one_go" in request.POST
    if one_go:
        form.fields = {name: form.fields[name] for name in ("version", "others")}
        form.lines = 0
    return submitted(
        form,
        lambda told: coat_in_zones(
            row, () if one_go else told["zones"], told["version"] or 0, others=told["others"]
        ),
        lambda _: _went(request, job, row),
        lambda: page(422),
    )


def _went(request: HttpRequest, job: Job, row: Piece) -> HttpResponse:
    toast_last(request, job)
    return redirect("edit_piece", job.pk, row.pk)


urlpatterns = [path("jobs/<int:job_id>/survey/pieces/<int:piece_id>/zones/", piece_zones, name="piece_zones")]
