"""A new shop starts with the illustrative pigments: they say so, count as uncertain, give way to drawdowns, and can be given back."""

import pytest
from django.test import Client

from hidewright.colour.learning.lots import STRENGTH_MORE
from hidewright.colour.pigments.generic import SPREAD, generic_set
from hidewright.refusals import Refusal
from hidewright.workshop.pigments import actions as shelf
from hidewright.workshop.pigments import illustrative_actions as generic
from hidewright.workshop.pigments import knowledge as cups
from hidewright.workshop.pigments import saving as keep
from hidewright.workshop.pigments import values as gather
from hidewright.workshop.shelf.models import Pigment
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job
from workshop.few_pigments import few_drawdowns, few_fits

pytestmark = pytest.mark.django_db
SET = {one.pigment.key for one in generic_set()}


def undo_last() -> None:
    acts.undo(Act.objects.order_by("-id")[0].pk)


def test_the_page_offers_them_and_shows_where_each_comes_from(visitor: Client) -> None:
    assert "Take the generic pigments" in visitor.get("/pigments/").content.decode()
    page = visitor.post("/pigments/illustrative/", follow=True).content.decode()
    assert page.count(">generic</span>") == len(SET)
    assert "Mie, rutile of Devore 1951" in page
    assert "Invented: an index and bands in plausible places" in page
    assert "Take the generic pigments" not in page
    white = Pigment.objects.get(key="PW6")
    one = visitor.get(f"/pigments/{white.pk}/").content.decode()
    assert "It is no product that you can buy" in one
    assert f"100 % ± {10 * SPREAD**STRENGTH_MORE:.0f} of the set’s strength" in " ".join(one.split())


def test_the_colour_page_of_a_shop_without_pigments_names_both_ways_first_and_comes_back(
    visitor: Client, job: Job
) -> None:
    address = f"/jobs/{job.pk}/colour/"
    page = visitor.get(address).content.decode()
    main = page[page.index("<main") :]
    ways = [main.index(words) for words in ("Take the generic pigments", "Bring pigments and drawdowns")]
    assert max(ways) < main.index("No colour was read yet")
    answer = visitor.post("/pigments/illustrative/", {"job": job.pk})
    assert (answer.status_code, answer.headers["Location"]) == (302, address)
    assert "Take the generic pigments" not in visitor.get(address).content.decode()


def test_they_are_known_and_count_as_uncertain() -> None:
    assert generic.load_illustrative() == len(SET)
    known = gather.pigments()
    assert {p.key for p in known} == SET
    assert all(p.illustrative for p in known)
    assert {lot.spread for lot in cups.stock(()).lots} == {SPREAD}
    with pytest.raises(Refusal, match="known here already"):
        generic.load_illustrative()


def test_what_the_shop_knows_is_left_alone_and_its_facts_are_kept() -> None:
    shelf.add_pigment("PW6", name="Our white", index="PW6", density=1.9, solids=0.5, price=3, note="")
    shelf.add_pigment("PBk7", name="Our black", index="PBk7", density=1.1, solids=0.3, price=4, note="")
    keep.keep_fit("PBk7", few_fits()["PBk7"])
    assert generic.load_illustrative() == len(SET) - 1
    white, black = (Pigment.objects.get(key=key) for key in ("PW6", "PBk7"))
    assert (white.name, white.density, bool(white.provenance)) == ("Our white", 1.9, True)
    assert (black.name, black.provenance) == ("Our black", "")
    assert {lot.key: lot.spread for lot in cups.stock(()).lots}["PBk7"] == 1.0


def test_drawdowns_take_their_place() -> None:
    generic.load_illustrative()
    keep.keep_fit("PR101", few_fits()["PR101"])
    row = Pigment.objects.get(key="PR101")
    assert row.provenance == ""
    undo_last()
    assert {p.key for p in gather.pigments()} == {"PR101"}


def test_giving_them_back_leaves_what_was_listed_before() -> None:
    shelf.add_pigment("PW6", name="Our white", index="PW6", density=1.9, solids=0.5, price=3, note="")
    generic.load_illustrative()
    undo_last()
    assert gather.pigments() == ()
    assert list(Pigment.objects.filter(active=True).values_list("name", flat=True)) == ["Our white"]
    assert generic.load_illustrative() == len(SET)


def test_a_film_read_three_times_is_kept_as_such() -> None:
    lines = few_drawdowns().splitlines()
    again = [line for line in lines if line.startswith("PBk7 masstone")] * 2
    shelf.import_drawdowns("\n".join([*lines, *again]))
    found = {d.name: d.readings for d in gather.drawdowns()}
    assert found["PBk7 masstone"] == 3
    assert found["PW6 masstone"] == 1


def test_the_colour_page_warns_of_them(visitor: Client, job: Job) -> None:
    assert "here are generic" not in visitor.get(f"/jobs/{job.pk}/colour/").content.decode()
    generic.load_illustrative()
    assert "All pigments here are generic" in visitor.get(f"/jobs/{job.pk}/colour/").content.decode()
    keep.keep_fit("PR101", few_fits()["PR101"])
    page = visitor.get(f"/jobs/{job.pk}/colour/").content.decode()
    assert f"{len(SET) - 1} of the {len(SET)} pigments here are generic" in page
