"""The shop's settings and people."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path, reverse
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.mixing.grain import BALANCE_STEPS
from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.forms import NumberField, acted
from hidewright.workshop.frame.pages import back_to, toast, toast_last, whole
from hidewright.workshop.frame.roles import has_owner
from hidewright.workshop.front import shop_actions as steps
from hidewright.workshop.front.copy_queries import kept_copies
from hidewright.workshop.front.health_queries import troubles
from hidewright.workshop.front.restore_actions import database_file
from hidewright.workshop.shop.disk import free_space
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Person, Shop


class ShopForm(forms.ModelForm[Shop]):
    """The shop's settings."""

    class Meta:
        model = Shop
        fields = ("name", "units", "currency", "balance_step", "drop", "snag_word")
        labels = {
            "name": "The shop's name",
            "units": "Units",
            "currency": "Money is written with",
        }

    def clean_snag_word(self) -> str:
        """The word in small letters; snag where nothing is said."""
        return str(self.cleaned_data["snag_word"]).lower() or "snag"

    balance_step = forms.TypedChoiceField(
        label="The balance shows steps of",
        coerce=float,
        choices=[(str(step), f"{step:g} g") for step in BALANCE_STEPS],
        help_text="What is advised is always a whole number of these.",
    )
    snag_word = forms.RegexField(
        label="What do you call damage or something missing?",
        regex=r"^[^\W\d_][^\W\d_ -]*$",
        max_length=20,
        required=False,
        error_messages={"invalid": "One word in letters, such as snag, squawk or flaw."},
        help_text="One word, for one of them: snag, squawk, flaw. All pages and papers use it.",
    )
    drop = NumberField(
        label="A drop from a bottle, mL",
        min_value=0.005,
        max_value=0.5,
        help_text="For bottles whose drop was never weighed. A drop of water is about a twentieth of a mL; pigment differs.",
    )


class PersonForm(forms.Form):
    """A person of the shop."""

    name = forms.CharField(label="Name", max_length=80)
    credentials = forms.CharField(
        label="Licences and training, with their dates",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For the shop's own record. Who may sign what is for the licensed or authorised person to say.",
    )


@require_http_methods(["GET", "POST"])
@once
def shop(request: HttpRequest) -> HttpResponse:
    """Settings: name, units, currency."""
    form = ShopForm(request.POST or None, instance=the_shop())
    if request.method == "POST" and form.is_valid():
        steps.change_settings(**form.cleaned_data)
        toast_last(request, None)
        return redirect("shop")
    return render(
        request, "shop/settings.html", {"form": form, **_kept()}, status=422 if form.errors else 200
    )


def _kept() -> dict[str, object]:
    """The newest copy and the room that is left."""
    copies = [one for one in kept_copies() if not one.before]
    return {"newest": copies[0] if copies else None, "free": free_space()}


@require_http_methods(["GET"])
def health(request: HttpRequest) -> HttpResponse:
    """Everything that is wrong with the shop's data, in words; the same as `hidewright doctor`."""
    found = troubles(database_file())
    return render(request, "shop/health.html", {"found": found, **_kept()})


@require_http_methods(["GET", "POST"])
@once
def people(request: HttpRequest) -> HttpResponse:
    """The people of the shop, and a form to add one."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and acted(form, lambda told: steps.add_person(**told)):
        toast_last(request, None)
        return redirect("people")
    listed = Person.objects.filter(active=True)
    return render(
        request, "shop/people.html", {"form": form, "people": listed}, status=422 if form.errors else 200
    )


@require_http_methods(["GET", "POST"])
@once
def edit_person(request: HttpRequest, person_id: int) -> HttpResponse:
    """Change a person's facts."""
    person = get_object_or_404(Person, pk=person_id)
    form = PersonForm(request.POST or None, initial={"name": person.name, "credentials": person.credentials})
    if request.method == "POST" and form.is_valid():
        steps.edit_person(person, **form.cleaned_data)
        toast_last(request, None)
        return redirect("people")
    return render(
        request, "shop/person.html", {"form": form, "person": person}, status=422 if form.errors else 200
    )


@require_POST
@once
def remove_person(request: HttpRequest, person_id: int) -> HttpResponse:
    """Take a person off the list; what they did stays on record."""
    steps.remove_person(get_object_or_404(Person, pk=person_id))
    toast_last(request, None)
    return redirect("people")


@require_POST
@once
def who(request: HttpRequest) -> HttpResponse:
    """Say who holds this device."""
    person = Person.objects.filter(pk=whole(request.POST.get("person", ""), 0)).first()
    if person is not None and has_owner():
        return redirect(f"{reverse('sign_in')}?person={person.pk}")
    steps.hold_device(request.device, person)  # type: ignore[attr-defined]
    toast(request, f"This device is with {person.name}." if person else "Nobody holds this device.")
    return back_to(request) if request.POST.get("back") else redirect("people")


urlpatterns = [
    path("shop/", shop, name="shop"),
    path("shop/health/", health, name="health"),
    path("people/", people, name="people"),
    path("people/<int:person_id>/", edit_person, name="edit_person"),
    path("people/<int:person_id>/remove/", remove_person, name="remove_person"),
    path("people/who/", who, name="who"),
]
