"""Every public function of the colour packages that takes bare numbers, tried with numbers that cannot be: a clear refusal, or an honest answer; never a crash, never NaN.

The functions are found by their annotations, so that a new one fails here until it is listed: as a door, with one good call, or as a kernel, an inner formula between arrays whose
NaN comes out as NaN. Constructors of values are tried in test_refused_inputs.py and test_joint_estimate.py.
"""

import dataclasses
import importlib
import inspect
import pkgutil
import typing
from collections.abc import Callable, Iterator, Mapping
from functools import lru_cache
from typing import Any

import numpy as np
import pytest

import hidewright.colour
from hidewright.colour.cups import estimate, memory, things
from hidewright.colour.learning.cup import BASE, Cup, Pour
from hidewright.colour.learning.learn import Knowledge
from hidewright.colour.learning.lots import stock_of
from hidewright.colour.light import cie
from hidewright.colour.pigments.contents import Contents
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.generic import generic_set
from hidewright.colour.pigments.pigment import Base
from hidewright.colour.pigments.shop_films import things_of
from hidewright.colour.recipes.recipe import Setting
from hidewright.refusals import Refusal, Refusals

NAN = float("nan")
TAN = np.linspace(0.1, 0.5, 31)
PIGMENTS = [g.pigment for g in generic_set() if g.pigment.key in ("PW6", "PY42", "PBk7")]
KNOWN = {p.key: p for p in PIGMENTS}
HELD = {"PW6": 10.0, "PY42": 3.0}
CONTENTS = Contents(HELD, 60.0)
SETTING = Setting(TAN, KNOWN, Base(), ("D65",))
CUP = Cup("cup", (Pour("PW6", 15.0, 0.05), Pour("PY42", 4.0, 0.05), Pour(BASE, 60.0, 0.05)))


@lru_cache(maxsize=1)
def known() -> Knowledge:
    return Knowledge.fresh(stock_of(PIGMENTS))


@lru_cache(maxsize=1)
def believed() -> estimate.Estimate:
    job = things.Job({things.PIECE: things.Swatch.of([60.0, 8.0, 20.0], "photo")}, (CUP,))
    return estimate.estimate(job, memory.Memory.of(known()))


def doors() -> dict[str, dict[str, Any]]:
    """One good call of each."""
    volumes = {"volumes": dict(HELD), "base_ml": 60.0, "setting": SETTING}
    return {
        "cups.adjust.as_if": {"reading": TAN, "volume_ml": 80.0, "pigments": PIGMENTS, "load": 0.18},
        "cups.fresh.fresh_cup": {"estimate": believed(), "grams": 100.0},
        "cups.own.leftover_lot": {"key": "left", "lab": [50.0, 5.0, 9.0], "load": 0.18, "density": 1.15},
        "cups.pours.next_pours": {"estimate": believed(), "cup": CUP, "keep": 3},
        "learning.learn.with_pours": {"known": known(), "pours": 2},
        "light.far.how_far": {"delta_e": 0.8},
        "light.far.off_by": {"delta_e": 0.8},
        "light.far.with_figure": {"delta_e": 0.8},
        "light.far.off_with_figure": {"delta_e": 0.8},
        "light.cie.light_from_spectrum": {
            "name": "lamp",
            "nm": np.arange(380.0, 781.0, 5.0),
            "power": np.full(81, 1.0),
        },
        "light.smooth.smoothest": {"colour": [50.0, 5.0, 9.0]},
        "light.spectra.spectrum": {"values": TAN, "where": "target", "upper": 1.3},
        "light.spectra.numbers": {"values": [1.0, 2.0, 3.0], "shape": (3,), "where": "Lab"},
        "light.spectra.spread": {"values": 0.1, "where": "spread"},
        "light.spectra.covariance": {"values": np.eye(3), "size": 3, "where": "spread"},
        "light.spectra.amounts": {"values": dict(HELD), "where": "cup", "low": 0.0, "high": 1e9},
        "light.spectra.within": {"value": 0.5, "low": 0.0, "high": 1.0, "what": "A share", "where": "cup"},
        "light.spectra.each_once": {"keys": ["a", "b"], "where": "cup"},
        "light.grey_scale.grade": {"delta_e_ab": 1.7},
        "pigments.film.surface_of_index": {"index": 1.5},
        "pigments.pigment.dry_shares": {
            "volumes": dict(HELD),
            "pigments": KNOWN,
            "base": Base(),
            "base_volume": 60.0,
        },
        "pigments.pigment.mixed": {"shares": {"PW6": 0.3, "PY42": 0.1}, "pigments": KNOWN},
        "pigments.wet.dry_from_wet": {"wet": TAN, "contents": CONTENTS, "pigments": PIGMENTS},
        "pigments.wet.wet_from_dry": {"dry": TAN, "contents": CONTENTS, "pigments": PIGMENTS},
        "reading.formats.typed_colour": {"name": "a", "values": [50.0, 5.0, 9.0], "sd": 0.3},
        "reading.formats.resampled": {"bands": [400.0, 420.0, 440.0]},
        "reading.readings.colour_reading": {
            "name": "a",
            "lab_values": [50.0, 5.0, 9.0],
            "covariance": np.eye(3),
        },
        "reading.readings.lab_from_lch": {"lch": [50.0, 5.0, 9.0]},
        "reading.readings.resample": {
            "grid": np.arange(400.0, 701.0, 20.0),
            "values": np.full(16, 0.4),
            "where": "file",
        },
        "reading.readings.special_metamerism": {"first": TAN, "second": TAN * 0.9, "light": "A"},
        "reading.repeats.lab_sd": {"reflectance": TAN, "sd": 0.0015},
        "recipes.leftovers.jar": {
            "key": "jar 1",
            "name": "jar",
            "volumes": dict(HELD),
            "base_ml": 60.0,
            "pigments": KNOWN,
            "base": Base(),
        },
        "recipes.leftovers.leftover": {
            "key": "jar 1",
            "name": "jar",
            "millilitres": 50.0,
            "volumes": dict(HELD),
            "base_ml": 60.0,
            "pigments": KNOWN,
            "base": Base(),
        },
        "pigments.shop_films.weighing": {
            "parts": {"PW6": 1.0, "PBk7": 0.1},
            "things": things_of({}),
            "grams": 50.0,
        },
        "recipes.match.step_per_litre": {"step_g": 0.1, "batch_ml": 250.0},
        "recipes.recipe.in_steps": {"grams": 12.34, "step_g": 0.1},
        "recipes.recipe.volumes_of": {"grams": dict(HELD), "setting": SETTING},
        "recipes.recipe.opaque_of": volumes,
        "recipes.recipe.dry_of": volumes,
        "recipes.recipe.coats_to_hide": volumes,
        "recipes.recipe.drop_error": volumes,
        "recipes.recipe.judge": {"grams": dict(HELD), "base_g": 60.0, "setting": SETTING},
        "recipes.shift.lighter": {"target": TAN, "by": 3.0},
        "recipes.shift.more_neutral": {"target": TAN, "share": 0.3},
        "recipes.shift.toward": {"target": TAN, "swatch": TAN * 0.8, "share": 0.3},
        "recipes.shift.to_lab": {"target": TAN, "wanted": np.array([55.0, 5.0, 12.0])},
    }


KERNELS: dict[str, tuple[Any, ...]] = {
    "light.cie.xyz": (TAN,),
    "light.cie.lab": (TAN,),
    "light.cie.lab_from_xyz": (np.array([40.0, 41.0, 30.0]), cie.white()),
    "light.cie.xyz_from_lab": (np.array([50.0, 5.0, 9.0]), cie.white()),
    "light.difference.parts_e00": (np.array([50.0, 5.0, 9.0]), np.array([51.0, 5.0, 9.0])),
    "light.difference.delta_e00": (np.array([50.0, 5.0, 9.0]), np.array([51.0, 5.0, 9.0])),
    "light.local.lab_slopes": (TAN,),
    "light.local.metric": (np.array([50.0, 5.0, 9.0]),),
    "cups.colours.lab_and_slopes": (TAN[None],),
    "pigments.film.k_over_s": (TAN,),
    "pigments.film.opaque": (TAN, TAN),
    "pigments.film.film": (TAN, TAN, 20.0, TAN),
    "pigments.film.seen": (TAN, Surface()),
    "pigments.film.below": (TAN, Surface()),
    "reading.photo.linear": (np.full((2, 2, 3), 0.5),),
}
"""Formulas between arrays, tried as they are thousands of times a second: a NaN comes out as a NaN, so that no plausible number is made of it."""
INNER = {
    "cups.looks.amounts_of",
    "cups.words.axes_at",
    "cups.words.told_by",
    "learning.cup_rows.stock_for",
    "learning.cupmodel.stacked",
    "learning.cupmodel.noise_of",
    "learning.learn.settle",
    "light.cie.hex_from_lab",
    "light.cie.hex_from_reflectance",
    "pigments.joint.together",
    "pigments.levels.quiet",
    "pigments.levels.levelled",
    "pigments.levels.open_levels",
    "pigments.misfit.spread_of",
    "pigments.proposals.propose",
    "pigments.residual.held_back",
    "pigments.shine.shine_of",
    "pigments.shine.way_of",
    "pigments.wet.learn_milk",
    "reading.repeats.repeats",
    "reading.stick.difference_on_stick",
    "recipes.search.polished",
    "simulate.first_cup",
    "simulate.run_shop",
}
"""Steps of one computation, handed what another step has made or checked: what comes in from outside passes a door or a constructor first."""
BARE = (
    "ndarray",
    "_array_like",
    "Sequence[float]",
    "Mapping[str, float]",
    "float | None",
    "tuple[float",
    "Sequence[str]",
)


def public() -> Iterator[tuple[str, Callable[..., Any]]]:
    """Name and function of all that take bare numbers."""
    for module in pkgutil.walk_packages(hidewright.colour.__path__, "hidewright.colour."):
        if module.name.rsplit(".", 1)[1].startswith("make_"):
            continue
        for name, one in vars(importlib.import_module(module.name)).items():
            if name.startswith("_") or not inspect.isfunction(one) or one.__module__ != module.name:
                continue
            hints = typing.get_type_hints(one)
            hints.pop("return", None)
            if any(h in (float, int, object) or any(w in str(h) for w in BARE) for h in hints.values()):
                yield f"{module.name}.{name}".removeprefix("hidewright.colour."), one


FUNCTIONS = dict(public())


def worse(value: Any) -> Iterator[Any]:
    """The same argument, spoilt one way after another."""
    if isinstance(value, bool | str):
        return
    if isinstance(value, int | float):
        yield from (NAN, float("inf"), 0, -1)
    elif isinstance(value, np.ndarray):
        yield from (np.full(value.shape, NAN), np.zeros(value.shape), value[:3], value[:0])
        yield from ([0.4] * 30,) if value.size == 31 else ()
    elif isinstance(value, Mapping) and all(isinstance(v, float) for v in value.values()):
        yield from ({}, {**value, "PW6": NAN}, {**value, "PW6": -0.5}, dict.fromkeys(value, 0.0))
    elif isinstance(value, list) and isinstance(value[0], float):
        yield from ([], [NAN] * len(value), [0.0] * len(value))
    elif isinstance(value, list):
        yield from ([], [*value, value[0]])


def finite(value: Any) -> bool:
    """No NaN anywhere in an answer."""
    if isinstance(value, float | np.ndarray | np.floating):
        return not bool(np.isnan(value).any())
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return all(finite(getattr(value, f.name)) for f in dataclasses.fields(value) if f.repr)
    if isinstance(value, Mapping):
        return all(finite(v) for v in value.values())
    if isinstance(value, tuple | list):
        return all(finite(v) for v in value)
    return True


def test_every_function_with_bare_numbers_is_listed() -> None:
    listed = {*doors(), *KERNELS, *INNER}
    assert set(FUNCTIONS) - listed == set(), "list it as a door with one good call, or as inner"
    assert listed - set(FUNCTIONS) == set(), "it is there no longer"


@pytest.mark.parametrize("name", sorted(doors()))
def test_a_door_refuses_or_answers_honestly(name: str) -> None:
    door, good = FUNCTIONS[name], doors()[name]
    assert finite(door(**good))
    for key, value in good.items():
        if key == "size":  # of a table, written in the code that asks for it
            continue
        for spoilt in worse(value):
            try:
                answer = door(**{**good, key: spoilt})
            except (Refusal, Refusals):
                continue
            assert finite(answer), f"{name}({key}={spoilt!r}) gives NaN"


@pytest.mark.parametrize("name", sorted(KERNELS))
def test_a_kernel_makes_no_plausible_number_of_nan(name: str) -> None:
    first, *rest = KERNELS[name]
    with np.errstate(all="ignore"):
        answer = FUNCTIONS[name](np.full(np.shape(first), NAN), *rest)
    assert not finite(answer if isinstance(answer, tuple) else np.asarray(answer))
