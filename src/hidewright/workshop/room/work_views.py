"""The page of how the work goes in the room: airs, guns, sessions, coats."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.views.decorators.http import require_http_methods

from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import went
from hidewright.workshop.room.queries import room_rules, table_rows
from hidewright.workshop.room.work_actions import set_work_rules
from hidewright.workshop.room.work_queries import WORK_RULES, work_now


class WorkRulesForm(forms.Form):
    """How the work goes: a number for each rule, and the air over each table."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        now = work_now()
        for rule in WORK_RULES:
            self.fields[rule.name] = forms.IntegerField(
                label=f"{rule.words}, minutes" if rule.unit else rule.words,
                min_value=rule.least,
                max_value=rule.most,
                initial=now[rule.name],
                help_text=f"{rule.why} The usual is {rule.usual}.".strip(),
            )
        for table in table_rows():
            self.fields[f"air_{table.pk}"] = forms.CharField(
                label=table.name,
                required=False,
                max_length=40,
                initial=table.air,
                widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "the common air"}),
            )

    def numbers(self) -> dict[str, int]:
        """The rules by their names."""
        return {rule.name: self.cleaned_data[rule.name] for rule in WORK_RULES}

    def airs(self) -> dict[int, str]:
        """The air over each table, by its row."""
        data = self.cleaned_data
        return {int(name[4:]): data[name] for name in self.fields if name.startswith("air_")}

    @property
    def rule_fields(self) -> list[forms.BoundField]:
        """The fields of the rules."""
        return [self[rule.name] for rule in WORK_RULES]

    @property
    def air_fields(self) -> list[forms.BoundField]:
        """The fields of the airs."""
        return [self[name] for name in self.fields if name.startswith("air_")]


def _page(request: HttpRequest, form: WorkRulesForm | None = None) -> HttpResponse:
    context = {"form": form or WorkRulesForm(initial={"version": room_rules().version})}
    return render(request, "room/work.html", context, status=422 if form is not None else 200)


@require_http_methods(["GET", "POST"])
@once
def work_rules(request: HttpRequest) -> HttpResponse:
    """How the work goes; posting changes it."""
    if request.method == "GET":
        return _page(request)
    form = WorkRulesForm(request.POST)
    return submitted(
        form,
        lambda cleaned: set_work_rules(form.numbers(), form.airs(), cleaned["version"]),
        lambda _: went(request, None, "tables"),
        lambda: _page(request, form),
    )


urlpatterns = [path("tables/work/", work_rules, name="work_rules")]
