"""Temperatures and air in the shop's units."""

from django import template

from hidewright.workshop.days.air_queries import CFM, CUBIC_FOOT, kelvins_shown

register = template.Library()


@register.filter
def degrees(celsius: float | None, shown_in: str = "metric") -> str:
    """A temperature (°C)."""
    if celsius is None:
        return ""
    return f"{celsius * 1.8 + 32:.1f} °F" if shown_in == "us" else f"{celsius:.1f} °C"


@register.filter
def apart(kelvins: float | None, shown_in: str = "metric") -> str:
    """A difference of temperature (K)."""
    return "" if kelvins is None else kelvins_shown(kelvins, shown_in)


@register.filter
def airflow(cubic_metres_an_hour: float | None, shown_in: str = "metric") -> str:
    """Air moved (m³/h), to three figures."""
    if cubic_metres_an_hour is None:
        return ""
    value, unit = (cubic_metres_an_hour / CFM, "cfm") if shown_in == "us" else (cubic_metres_an_hour, "m³/h")
    return f"{float(f'{value:.3g}'):,.0f} {unit}" if value >= 10 else f"{value:.2g} {unit}"


@register.filter
def room(cubic_metres: float | None, shown_in: str = "metric") -> str:
    """A room (m³)."""
    if cubic_metres is None:
        return ""
    return f"{cubic_metres / CUBIC_FOOT:,.0f} ft³" if shown_in == "us" else f"{cubic_metres:,.0f} m³"
