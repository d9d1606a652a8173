"""What the films say of how they were read: a mix-up about the shine is said before K and S are used, and each pigment's page says why."""

from collections.abc import Sequence
from functools import lru_cache
from html import unescape

import pytest
from django.test import Client

from hidewright import demo
from hidewright.colour.pigments.characterise import settled
from hidewright.colour.pigments.drawdowns import Drawdown
from hidewright.colour.pigments.film import Surface
from hidewright.colour.pigments.joint import Joint
from hidewright.colour.pigments.shine import Way
from hidewright.colour.reading.readings import read_drawdowns
from hidewright.refusals import Refusal
from hidewright.workshop.pigments import actions as pigments
from hidewright.workshop.pigments import find_actions, values
from hidewright.workshop.pigments.models import ColourSetup
from hidewright.workshop.pigments.queries import FilmEvidence, film_evidence
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop import runs
from hidewright.workshop.shop.models import Run
from workshop.few_pigments import few_drawdowns

pytestmark = pytest.mark.django_db


def two_films() -> str:
    """White and black alone, read with the shine, as the demonstration's instrument does."""
    first, *rest = few_drawdowns().splitlines()
    return "\n".join([first, *(r for r in rest if r.startswith(("card", "PW6 masstone", "PBk7 masstone")))])


@lru_cache(maxsize=2)
def joint(*, specular: bool) -> Joint:
    return settled(read_drawdowns(two_films()), Surface(specular=specular))


@pytest.fixture
def settled_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The two films are settled once each way."""

    def once(_films: Sequence[Drawdown], surface: Surface, *_: object) -> Joint:
        return joint(specular=surface.specular)

    def way(films: Sequence[Drawdown], surface: Surface, *, on_progress: find_actions.Say) -> Way:
        on_progress(1.0, "All pigments settled together")
        return Way.by(once(films, surface))

    monkeypatch.setattr(find_actions, "settled", once)
    monkeypatch.setattr(find_actions, "way_of", way)


def test_a_mix_up_about_the_shine_is_said_before_anything_is_used(
    visitor: Client, settled_once: None, django_capture_on_commit_callbacks: pytest.FixtureRequest
) -> None:
    def find(how: str = "") -> dict[str, object]:
        with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
            visitor.post("/pigments/find/", {"how": how})
        return dict(Run.objects.filter(kind="colour.characterise").latest("id").result)

    pigments.import_pigments(demo.text("pigments.csv"))
    pigments.import_drawdowns(two_films())
    ColourSetup.objects.update_or_create(pk=1, defaults={"specular": False})
    assert "held" in find()
    assert not Pigment.objects.exclude(characterised=None).exists(), "nothing is used yet"
    page = unescape(visitor.get("/pigments/").content.decode())
    assert "fit better when they were read with the shine; the setting says without it" in page
    assert "Find them again" not in page
    assert "why" in find("as set"), "somebody looked: the setting is right"
    white = Pigment.objects.get(key="PW6")
    assert white.characterised
    assert "why" in find("other")
    assert values.setup().specular
    shown = unescape(visitor.get(f"/pigments/{white.pk}/").content.decode())
    assert "Why: how its readings fit" in shown
    assert "The readings were taken with the shine" in unescape(visitor.get("/pigments/").content.decode())
    evidence = film_evidence(white)
    assert evidence is not None
    assert evidence.with_shine
    assert evidence.off is None, "two films are too few to learn what K and S leave over"


def test_a_stop_is_heard_while_the_films_are_asked_about_the_shine(
    settled_once: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    pigments.import_pigments(demo.text("pigments.csv"))
    pigments.import_drawdowns(two_films())
    monkeypatch.setattr(runs, "WRITE_EVERY", 0.0)
    seen = []

    def watch(_fraction: float, words: str) -> None:
        seen.append(words)
        if words.startswith("Asking the films"):
            Run.objects.update(stop_asked=True)

    with pytest.raises(Refusal, match="K and S stay as they were"):
        runs.run_here(None, "colour.characterise", {}, watch)
    assert len(seen) == 2, "once for each way, and nothing after the stop"
    assert not Pigment.objects.exclude(characterised=None).exists()


@pytest.mark.parametrize(
    ("evidence", "words", "rest"),
    [
        (FilmEvidence(True, 0.3, 1.4, 2.0, 1.5), "fit better when they were read with the shine, as the setting says: off by ΔE00 0.3", "1.5"),
        (FilmEvidence(False, 1.4, 0.3, 2.0, 2.1), "fit better when they were read with the shine: off by ΔE00 1.4 on average as set", "nothing beside them"),
        (FilmEvidence(True, 0.3, 0.33), "fit alike", ""),
        (FilmEvidence(True, 0.3, None), "can only have been read with the shine", ""),
    ],
)  # fmt: skip
def test_it_is_said_plainly(evidence: FilmEvidence, words: str, rest: str) -> None:
    assert words in evidence.shine_words
    assert evidence.against is ("against" in words or (evidence.other or 9) < evidence.as_set - 0.1)
    assert rest in evidence.rest_words
