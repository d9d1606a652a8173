"""Light or dark: kept by the device, not by the shop, since a tablet in the spray room and the laptop in the office differ."""

from django import forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.views.decorators.http import require_http_methods

from hidewright.workshop.frame.acts import once, submitted
from hidewright.workshop.frame.pages import THEME_COOKIE, THEMES, theme_of, toast

LABELS = ("As this device has it", "Light", "Dark")


class ThemeForm(forms.Form):
    """One of three."""

    theme = forms.ChoiceField(
        label="Pages on this device",
        choices=list(zip(THEMES, LABELS, strict=True)),
        widget=forms.RadioSelect,
    )


@require_http_methods(["GET", "POST"])
@once
def theme(request: HttpRequest) -> HttpResponse:
    """Choose light or dark for this device; a cookie keeps it for a year."""
    form = ThemeForm(request.POST or None, initial={"theme": theme_of(request)})
    if request.method == "GET":
        return _page(request, form)
    return submitted(
        form,
        lambda cleaned: str(cleaned["theme"]),
        lambda chosen: _kept(request, chosen),
        lambda: _page(request, form, status=422),
    )


def _page(request: HttpRequest, form: ThemeForm, status: int = 200) -> HttpResponse:
    return render(request, "shop/theme.html", {"form": form}, status=status)


def _kept(request: HttpRequest, chosen: str) -> HttpResponse:
    toast(request, f"Pages on this device: {LABELS[THEMES.index(chosen)].lower()}.")
    answer = redirect("theme")
    answer.set_cookie(
        THEME_COOKIE,
        chosen,
        max_age=settings.SESSION_COOKIE_AGE,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
    return answer


urlpatterns = [path("theme/", theme, name="theme")]
