"""Saying who holds this device, with a PIN or password, and giving people theirs."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods, require_POST

from hidewright.workshop.frame.acts import once
from hidewright.workshop.frame.forms import acted
from hidewright.workshop.frame.pages import device_of, toast, toast_last
from hidewright.workshop.front import sign_in_actions as steps
from hidewright.workshop.shop.models import Person, Role


class SignInForm(forms.Form):
    """Who, and the proof."""

    person = forms.ModelChoiceField(label="I am", queryset=Person.objects.none())
    secret = forms.CharField(
        label="PIN or password",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: object, **how: object) -> None:
        super().__init__(*args, **how)  # type: ignore[arg-type]
        self.fields["person"].queryset = Person.objects.filter(active=True).exclude(secret="")  # type: ignore[attr-defined]


class SecretForm(forms.Form):
    """A person's role and PIN or password."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    secret = forms.CharField(
        label="New PIN or password",
        max_length=200,
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="At least 4 characters at the bench, 10 for an owner. Empty: this person cannot sign in.",
    )


@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """A form for the PIN or password; a wrong one is counted."""
    form = SignInForm(request.POST or None, initial={"person": request.GET.get("person", "")})
    device = device_of(request)
    assert device is not None
    if request.method == "POST" and acted(
        form, lambda cleaned: steps.sign_in(device, cleaned["person"], cleaned["secret"])
    ):
        request.session.cycle_key()
        toast(request, f"This device is with {form.cleaned_data['person'].name}.")
        return redirect("jobs")
    return render(request, "door/sign_in.html", {"form": form}, status=422 if form.errors else 200)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Nobody acts on this device any more."""
    device = device_of(request)
    assert device is not None
    steps.sign_out(device)
    toast(request, "Nobody is signed in on this device.")
    return redirect("sign_in")


@require_http_methods(["GET", "POST"])
@once
def secret(request: HttpRequest, person_id: int) -> HttpResponse:
    """Give a person a role and a PIN or password."""
    person = get_object_or_404(Person, pk=person_id, active=True)
    form = SecretForm(request.POST or None, initial={"role": person.role})
    if request.method == "POST" and acted(
        form, lambda cleaned: steps.set_secret(person, Role(cleaned["role"]), cleaned["secret"])
    ):
        toast_last(request, None)
        return redirect("people")
    return render(
        request, "door/secret.html", {"form": form, "person": person}, status=422 if form.errors else 200
    )


urlpatterns = [
    path("sign-in/", sign_in, name="sign_in"),
    path("sign-out/", sign_out, name="sign_out"),
    path("people/<int:person_id>/secret/", secret, name="person_secret"),
]
