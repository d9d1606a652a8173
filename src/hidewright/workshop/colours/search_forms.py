"""What a search for recipes may use: the form, as it was sent last or as the shop usually looks."""

from collections.abc import Sequence
from typing import Any

from django import forms

from hidewright.units import counted
from hidewright.workshop.colours import search_queries as shelf
from hidewright.workshop.frame.forms import NumberField, VolumeField
from hidewright.workshop.pigments import lamp_queries as shelf_lamp_queries
from hidewright.workshop.pigments import values as gather
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop.models import Run
from hidewright.workshop.shop.words import by_units

USES = [("may", "may be used"), ("must", "must be used"), ("not", "leave out")]
JAR_USES = [("not", "leave it"), ("may", "may be used"), ("up", "use it up")]
JUDGES = [
    ("first", "daylight alone"),
    ("worst", "the light it is worst under"),
    ("weighed", "all of them, weighed as below"),
]
COATS = [
    ("", "opaque, as many coats as it takes"),
    *((str(n), counted(n, "coat")) for n in range(1, 7)),
]
BATCH_ML = 1000.0


class MatchForm(forms.Form):
    """What a search for recipes may use."""

    batch = VolumeField(
        label="How much will be mixed",
        required=False,
        help_text=by_units("Like 900 mL or 1.2 L. Empty: 1 L.", "Like 1 qt or 24 fl oz. Empty: about 1 qt."),
    )
    load_low = NumberField(label="Pigment, at least %", min_value=0.5, max_value=90)
    load_high = NumberField(label="Pigment, at most %", min_value=0.5, max_value=90)
    most = forms.TypedChoiceField(
        label="Most pigments in a recipe", coerce=int, choices=[(n, str(n)) for n in range(1, 6)]
    )
    coats = forms.ChoiceField(
        label="Right when it is",
        required=False,
        choices=COATS,
        help_text="Over the old colour, at the shop’s own coat.",
    )
    lights = forms.MultipleChoiceField(
        label="Also look under", required=False, widget=forms.CheckboxSelectMultiple
    )
    judge = forms.ChoiceField(label="Judge by", required=False, choices=JUDGES)
    on_shelf = forms.BooleanField(
        label="Only what is on the shelf, and no more than is left of it", required=False
    )

    def __init__(
        self, *args: Any, pigments: Sequence[Pigment], jars: Sequence[shelf.JarOffered], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.names = shelf_lamp_queries.light_names()
        others = [(name, words) for name, words in self.names.items() if name != "D65"]
        self.fields["lights"].choices = others  # type: ignore[attr-defined]
        self.weights = {f"weight_{n}": name for n, name in enumerate(self.names)}
        for field, name in self.weights.items():
            self.fields[field] = NumberField(
                label=self.names[name], required=False, min_value=0, max_value=100
            )
        self.keys = {f"use_{row.pk}": row.key for row in pigments}
        for row in pigments:
            label = row.name if row.on_shelf else f"{row.name} (run out)"
            self.fields[f"use_{row.pk}"] = forms.ChoiceField(
                label=label, choices=USES, initial="may", required=False
            )
        self.jars = {f"jar_{one.row.pk}": one for one in jars}
        for field, one in self.jars.items():
            self.fields[field] = forms.ChoiceField(
                label=one.row.name, choices=JAR_USES, initial="not", required=False
            )

    def pigment_fields(self) -> list[forms.BoundField]:
        """The fields of the single pigments."""
        return [self[name] for name in self.keys]

    def weight_fields(self) -> list[forms.BoundField]:
        """How much each light counts."""
        return [self[name] for name in self.weights]

    def jar_fields(self) -> list[tuple[forms.BoundField, shelf.JarOffered]]:
        """Each jar with its field."""
        return [(self[name], one) for name, one in self.jars.items()]

    def clean(self) -> dict[str, Any]:
        """Weights must be there when the lights are to be weighed; lights that are weighed are looked at."""
        data = super().clean() or {}
        weighed = {name: data.get(field) or 0.0 for field, name in self.weights.items()}
        data["weights"] = {name: weight for name, weight in weighed.items() if weight > 0}
        if data.get("judge") == "weighed" and not data["weights"]:
            self.add_error("judge", "Say below how much each light counts.")
        return data

    def asked(self) -> dict[str, Any]:
        """The search as its run takes it."""
        data = self.cleaned_data
        uses = {key: data.get(name) for name, key in self.keys.items()}
        jars = {one.row.pk: data.get(name) for name, one in self.jars.items()}
        weights = data["weights"] if data["judge"] == "weighed" else {}
        chosen = [name for name in self.names if name in data["lights"] or name in weights or name == "D65"]
        return {
            "load": [data["load_low"] / 100, data["load_high"] / 100],
            "most": data["most"],
            "lights": chosen,
            "worst": data["judge"] == "worst",
            "weights": weights,
            "on_shelf": data["on_shelf"],
            "batch": data["batch"] or BATCH_ML,
            "coats": int(data["coats"]) if data["coats"] else None,
            "must_use": [key for key, use in uses.items() if use == "must"],
            "must_not_use": [key for key, use in uses.items() if use == "not"],
            "jars": [pk for pk, use in jars.items() if use in ("may", "up")],
            "use_up": [pk for pk, use in jars.items() if use == "up"],
        }


def start(run: Run | None, pigments: Sequence[Pigment], jars: Sequence[shelf.JarOffered]) -> dict[str, Any]:
    """The form as it was sent last, or the shop's own window and lights."""
    if run is None:
        shop = gather.setup()
        return {
            "batch": _written(BATCH_ML),
            "load_low": round(100 * shop.load_low, 2),
            "load_high": round(100 * shop.load_high, 2),
            "most": 4,
            "lights": list(gather.LIGHTS[1:]),
            "judge": "first",
        }
    asked = run.asked
    uses = dict.fromkeys(asked["must_use"], "must") | dict.fromkeys(asked["must_not_use"], "not")
    opened = dict.fromkeys(asked.get("jars", ()), "may") | dict.fromkeys(asked.get("use_up", ()), "up")
    weights = asked.get("weights") or {}
    return {
        "batch": _written(asked.get("batch") or BATCH_ML),
        "load_low": round(100 * asked["load"][0], 2),
        "load_high": round(100 * asked["load"][1], 2),
        "most": asked["most"],
        "coats": str(asked.get("coats") or ""),
        "lights": [name for name in asked["lights"] if name != "D65"],
        "judge": "worst" if asked["worst"] else ("weighed" if weights else "first"),
        "on_shelf": asked["on_shelf"],
        **{f"weight_{n}": weights.get(name) for n, name in enumerate(shelf_lamp_queries.light_names())},
        **{f"use_{row.pk}": uses.get(row.key, "may") for row in pigments},
        **{f"jar_{one.row.pk}": opened.get(one.row.pk, "not") for one in jars},
    }


def _written(millilitres: float) -> str:
    return f"{millilitres:g} mL"
