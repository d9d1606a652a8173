"""Characterising from drawdowns: found again, undetermined scattering flagged, contradictions named, the next drawdown proposed."""

from dataclasses import replace

import numpy as np
import pytest

from hidewright.colour.light.cie import delta_e00, lab
from hidewright.colour.pigments.characterise import characterise, characterise_all, settled
from hidewright.colour.pigments.drawdowns import Drawdown, Fit
from hidewright.colour.pigments.film import Surface, below, film, opaque, seen
from hidewright.colour.pigments.films import Films
from hidewright.colour.pigments.joint import Joint, together
from hidewright.colour.pigments.misfit import kin
from hidewright.colour.pigments.pigment import Pigment, mixed
from hidewright.colour.pigments.proposals import propose
from hidewright.colour.reading.readings import read_drawdowns
from hidewright.refusals import Refusal, Refusals

SURFACE = Surface()
BLACK, WHITE = np.full(31, 0.05), np.full(31, 0.86)


def drawn(
    name: str,
    shares: dict[str, float],
    pigments: dict[str, Pigment],
    *,
    um: float = 40.0,
    seed: int = 0,
    noise: float = 0.001,
    surface: Surface = SURFACE,
) -> Drawdown:
    """A drawdown of the true pigments, read with a little noise."""
    k, s = mixed(shares, pigments)
    rng = np.random.default_rng(seed)
    over = [
        np.clip(seen(film(k, s, um, below(g, SURFACE)), surface) + rng.normal(0, noise, 31), 0.001, None)
        for g in (BLACK, WHITE)
    ]
    return Drawdown(name, shares, um, over[0], over[1], BLACK, WHITE)


def some(pigments: dict[str, Pigment], noise: float = 0.001) -> list[Drawdown]:
    """White, red oxide and yellow oxide: masstones and tints."""
    mixes = {
        "white": {"PW6": 0.6},
        "red": {"PR101": 0.6},
        "red tint": {"PR101": 0.1, "PW6": 0.5},
        "yellow": {"PY42": 0.6},
        "yellow tint": {"PY42": 0.1, "PW6": 0.5},
    }
    return [
        drawn(name, shares, pigments, seed=seed, noise=noise)
        for seed, (name, shares) in enumerate(mixes.items(), 1)
    ]


@pytest.fixture(scope="module")
def steps() -> list[float]:
    """How far the fit of `joint` said it was, as it went on."""
    return []


@pytest.fixture(scope="module")
def joint(steps: list[float]) -> Joint:
    """The three pigments, settled together."""
    from hidewright.demo.make_colours import pigments as invented

    return settled(some(invented()), SURFACE, lambda fraction, text: steps.append(fraction))


@pytest.fixture(scope="module")
def fits(joint: Joint) -> dict[str, Fit]:
    """The three pigments, found."""
    from hidewright.demo.make_colours import pigments as invented

    return joint.fits(some(invented()))


def test_the_settled_answer_reads_its_films_again_and_says_how_far_it_is(
    joint: Joint, steps: list[float]
) -> None:
    """A pigment that was drawn alone comes first, the white that is in most films before all; the scales come out near what the readings were given; nothing is negative."""
    assert joint.keys[0] == "PW6"
    assert steps == pytest.approx([0.8 / 3, 1.6 / 3, 0.8, 1.0])
    assert max(max(pair) for pair in joint.misfit.values()) < 0.4
    assert max(joint.doubt.values()) < 2.0
    assert 0.0005 < joint.scales.noise < 0.0018
    assert np.linalg.eigvalsh(joint.covariance).min() > 0


def test_unseen_mixes_are_foretold(pigments: dict[str, Pigment], fits: dict[str, Fit]) -> None:
    found = {key: Pigment(key, key, key, f.k, f.s) for key, f in fits.items()}
    shares = {"PW6": 0.4, "PR101": 0.06, "PY42": 0.1}
    told, real = (seen(opaque(*mixed(shares, p)), SURFACE) for p in (found, pigments))
    assert float(delta_e00(lab(told), lab(real))) < 0.3
    assert max(max(pair) for f in fits.values() for pair in f.misfit.values()) < 0.4
    assert not any(f.undetermined for f in fits.values())


def test_spread_covers_the_truth(pigments: dict[str, Pigment], fits: dict[str, Fit]) -> None:
    off = np.concatenate([np.log(f.k / pigments[key].k) / f.k_sd for key, f in fits.items() if key != "PW6"])
    assert np.mean(np.abs(off) < 2.5) > 0.8


def test_a_lone_opaque_masstone_leaves_scattering_undetermined(pigments: dict[str, Pigment]) -> None:
    thick = drawn("black", {"PBk7": 0.6}, pigments, um=400.0)
    fit = characterise("PBk7", [thick], {})
    assert fit.undetermined


@pytest.mark.parametrize("um", [40.0, 400.0])
@pytest.mark.parametrize("seed", range(4))
def test_a_masstone_without_a_tint_is_flagged_beside_others_and_its_spread_holds_the_truth(
    pigments: dict[str, Pigment], um: float, seed: int
) -> None:
    """An opaque film fixes k/s alone; the fit ends where it just hides, and must not be taken for knowledge of the level."""
    lone = drawn("black", {"PBk7": 0.6}, pigments, um=um, seed=seed, noise=0.0015)
    found = characterise_all([*some(pigments), lone])
    assert found["PBk7"].undetermined
    assert [key for key, fit in found.items() if fit.undetermined] == ["PBk7"]
    black = pigments["PBk7"]
    off = np.log(found["PBk7"].s / black.s) / found["PBk7"].s_sd
    assert np.abs(np.median(off)) < 2.0
    hue = np.log(found["PBk7"].k / found["PBk7"].s) - np.log(black.k / black.s)
    assert np.abs(np.median(hue)) < 0.3, "what the film does tell is found"
    tint = drawn("black tint", {"PBk7": 0.02, "PW6": 0.5}, pigments, seed=seed + 9)
    assert not characterise_all([*some(pigments), lone, tint])["PBk7"].undetermined


@pytest.mark.parametrize(("far", "seed"), [(1.5, 0), (1.5, 1), (2.0, 2), (2.0, 3), (3.0, 4), (3.0, 5)])
def test_the_fit_does_not_hang_on_where_it_starts(
    pigments: dict[str, Pigment], fits: dict[str, Fit], far: float, seed: int
) -> None:
    """Levels of k and s that are wrong by up to e^±3, or by just that, lead to the same colours: no start is held by a local minimum."""
    made, rng = some(pigments), np.random.default_rng(seed)

    def wrong() -> float:
        return float(np.exp(rng.uniform(-far, far) if seed % 2 else rng.choice([-far, far])))

    start = {key: replace(fit, k=fit.k * wrong(), s=fit.s * wrong()) for key, fit in fits.items()}
    found = [together(made, begun, SURFACE).fits(made) for begun in (fits, start)]
    for shares in ({"PW6": 0.4, "PR101": 0.06, "PY42": 0.1}, {"PR101": 0.3, "PY42": 0.3}, {"PW6": 0.6}):
        one, two = (
            lab(
                seen(
                    opaque(*mixed(shares, {k: Pigment(k, k, k, f.k, f.s) for k, f in each.items()})), SURFACE
                )
            )
            for each in found
        )
        assert float(delta_e00(one, two)) < 0.03


def test_a_mislabelled_drawdown_is_named(pigments: dict[str, Pigment]) -> None:
    good = some(pigments)
    shade = drawn("shade", {"PR101": 0.3, "PY42": 0.3}, pigments, seed=6)
    wrong = replace(
        drawn("mixed up", {"PR101": 0.55, "PW6": 0.1}, pigments, seed=7), shares={"PY42": 0.55, "PW6": 0.1}
    )
    fits = characterise_all([*good, shade, wrong])
    named = {name for f in fits.values() for name in f.contradicts}
    assert "mixed up" in named
    assert "white" not in named


def test_the_next_drawdown_is_proposed_with_a_reason(joint: Joint) -> None:
    offers = propose(joint, mixes=10)
    assert offers[0].after < offers[0].before
    assert [o.after for o in offers] == sorted(o.after for o in offers)
    assert "instead of" in offers[0].words
    assert joint.spread_of({"PW6": 0.4, "PR101": 0.1}) < 0.6


def test_a_proposed_drawdown_once_made_brings_what_was_said(
    pigments: dict[str, Pigment], fits: dict[str, Fit], joint: Joint
) -> None:
    """The best and the worst offer are made, read and taken in: the mean spread of the same mixes then is what each said, within a third."""
    drawdowns = some(pigments)
    offers = propose(joint, mixes=10)
    left = []
    for offer in (offers[0], offers[-1]):
        shares = {key: 0.45 * part / sum(offer.parts.values()) for key, part in offer.parts.items()}
        more = [*drawdowns, drawn("next", shares, pigments, seed=99)]
        left.append(propose(together(more, fits), mixes=10)[0].before)
        assert left[-1] == pytest.approx(offer.after, rel=0.34)
    assert left[0] < left[1] <= 1.05 * offers[0].before


def test_kinship_counts_the_films_that_are_alike(pigments: dict[str, Pigment]) -> None:
    """By hand: three films alike count three each and one of another pigment itself alone; at the distance of one e in the amount a film counts exp(−½) of the others."""
    same = [drawn(f"red {n}", {"PR101": 0.6}, pigments, seed=n) for n in range(3)]
    other = drawn("white", {"PW6": 0.6}, pigments, seed=9)
    thin = drawn("thin red", {"PR101": 0.6}, pigments, um=40.0 / np.e, seed=10)
    half = np.exp(-0.5)
    found = kin(Films(("PR101", "PW6"), [*same, other, thin], SURFACE))
    np.testing.assert_allclose(found, [3 + half, 3 + half, 3 + half, 1, 1 + 3 * half], atol=1e-6)
    turned = kin(Films(("PR101", "PW6"), [thin, other, *same], SURFACE))
    np.testing.assert_allclose(turned, found[[4, 3, 0, 1, 2]])


def test_readings_of_one_film_are_averaged_and_count_for_more(pigments: dict[str, Pigment]) -> None:
    known = some(pigments, 0.0015)
    once = together(known, characterise_all(known))
    thrice = [replace(d, readings=9) for d in some(pigments, 0.0015 / 3)]
    more = together(thrice, characterise_all(thrice))
    shares = {"PW6": 0.4, "PR101": 0.1}
    assert thrice[0].sd == pytest.approx(known[0].sd / 3)
    assert more.spread_of(shares) < 0.7 * once.spread_of(shares)
    with pytest.raises(Refusal, match="averaged"):
        replace(known[0], readings=0)


def test_rows_of_one_name_and_side_are_readings_of_one_film() -> None:
    def line(name: str, shares: str, microns: str, over: str, value: float) -> str:
        return ",".join([name, shares, microns, over, *([f"{value:.4f}"] * 31)])

    head = ",".join(["name", "shares", "microns", "over", *(str(nm) for nm in range(400, 701, 10))])
    cards = [line("card", "", "", "black", 0.05), line("card", "", "", "white", 0.86)]
    films = [
        line("red", "PR101=0.5", "40", over, v) for over in ("black", "white") for v in (0.20, 0.22, 0.24)
    ]
    (found,) = read_drawdowns("\n".join([head, *cards, *films]))
    assert found.readings == 3
    np.testing.assert_allclose(found.over_black, 0.22)
    with pytest.raises(Refusals) as refused:
        read_drawdowns("\n".join([head, *cards, *films, line("red", "PR101=0.4", "40", "black", 0.2)]))
    assert "shares" in refused.value.items[0].where


def test_one_noisy_band_of_a_black_is_no_wrong_setting(pigments: dict[str, Pigment]) -> None:
    """A black reads .0446 where the surface alone gives .04: noise of .0015 takes a band below it now and then."""
    black = drawn("black", {"PBk7": 0.6}, pigments, seed=3, noise=0.0015)
    dip = black.over_black.copy()
    dip[20] = 0.0385
    fit = characterise("PBk7", [replace(black, over_black=dip)], {})
    assert np.all(np.isfinite(fit.k))


def test_readings_without_specular_are_refused_when_taken_for_with(pigments: dict[str, Pigment]) -> None:
    without = Surface(specular=False)
    dark = drawn("black", {"PBk7": 0.6}, pigments, surface=without)
    with pytest.raises(Refusal) as refused:
        characterise("PBk7", [dark], {})
    assert "specular" in refused.value.remedy


def test_refusals(pigments: dict[str, Pigment]) -> None:
    tint = drawn("tint", {"PR101": 0.1, "PW6": 0.5}, pigments)
    with pytest.raises(Refusal, match="not known yet"):
        characterise("PR101", [tint], {})
    with pytest.raises(Refusal, match="No drawdown holds"):
        characterise("PB15", [tint], {})
