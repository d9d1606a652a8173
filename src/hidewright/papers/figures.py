"""How numbers and days are written on paper: one place, so that every sheet writes them alike."""

from hidewright.units import Units, show_volume

MINUS = "−"


def fixed(value: float, places: int = 1) -> str:
    """`value` with `places` decimals, a real minus sign, and no minus before zero."""
    text = f"{value:.{places}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def volume(ml: float, units: Units | str = Units.METRIC) -> str:
    """A volume in the shop's units: “900 mL”, “1.10 L”, or “30.4 fl oz”, “1.16 qt”."""
    if Units(units) is Units.US:
        return show_volume(ml, units)
    return f"{fixed(ml, 0)} mL" if abs(ml) < 1000 else f"{fixed(ml / 1000, 2)} L"


def percent(share: float, places: int = 1) -> str:
    """A share 0..1 as per cent."""
    return f"{fixed(100 * share, places)} %"
