"""The shop's vessels, the step of its balance, and boxing that never runs over."""

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hidewright.mixing import MixPart, MixRecipe
from hidewright.refusals import Refusal
from hidewright.workshop.bench import load_actions as loads
from hidewright.workshop.bench import queries as bench
from hidewright.workshop.bench.jar_actions import keep_jar, mix_again
from hidewright.workshop.shelf import vessel_actions as steps
from hidewright.workshop.shelf.models import MixComponent, MixVessel, ShopVessel
from hidewright.workshop.shelf.pot_actions import add_pot
from hidewright.workshop.shelf.vessel_queries import state_of
from hidewright.workshop.shop.models import Act, Job, Shop
from hidewright.workshop.shop.undo import undo

TAN = MixRecipe(
    "Tan",
    (
        MixPart("base", "Clear base", 0.85, 1.0),
        MixPart("white", "White", 0.145, 2.0),
        MixPart("black", "Black", 0.005, 1.25),
    ),
)


def poured(job: Job, aim: float, **facts: object) -> MixVessel:
    """A cup that was poured as its page shows, to the end."""
    row = steps.begin_cup(job, TAN, aim, **facts)  # type: ignore[arg-type]
    for _ in range(9):
        state = state_of(MixVessel.objects.get(pk=row.pk))
        if state.next_step is None:
            return MixVessel.objects.get(pk=row.pk)
        steps.pour(row, state.next_step.key, round(1000 * state.next_step.volume))
    raise AssertionError("the cup is never finished")


def test_a_vessel_is_added_and_taken_off_and_both_can_be_undone(visitor: Client) -> None:
    visitor.post("/vessels/", {"name": "Quart pot", "capacity": "1 qt", "tare": ""})
    pot = ShopVessel.objects.get()
    assert (pot.name, pot.capacity) == ("Quart pot", 946_353)
    assert "Quart pot" in visitor.get("/vessels/").text
    visitor.post(f"/vessels/{pot.pk}/remove/")
    assert not ShopVessel.objects.filter(removed=None).exists()
    undo(Act.objects.latest("pk").pk)
    assert ShopVessel.objects.filter(removed=None).exists()
    again = visitor.post("/vessels/", {"name": "Quart pot", "capacity": "2 L", "tare": ""})
    assert again.status_code == 422
    assert "is on the list" in again.text


def test_a_mix_is_offered_in_the_smallest_vessel_that_takes_it(job: Job) -> None:
    for name, size in (("cup", 250), ("pot", 1000), ("pail", 4000)):
        add_pot(name, size)
    assert steps.begin_cup(job, TAN, 200).capacity == 250_000
    assert steps.begin_cup(job, TAN, 500).capacity == 1_000_000
    assert steps.begin_cup(job, TAN, 9000).capacity == 10_000_000


def test_a_top_up_is_offered_in_a_vessel_that_takes_both(job: Job, visitor: Client) -> None:
    """Advice that the app gives is carried out by the app: the rest of the batch goes into the top-up's vessel."""
    batch = poured(job, 800, capacity=900.0)
    done = visitor.post(f"/jobs/{job.pk}/mixing/{batch.pk}/top-up/", {"aim": "700 mL"})
    assert done.status_code == 302
    top_up = MixVessel.objects.latest("pk")
    assert top_up.name == "Tan, batch 2"
    assert top_up.capacity >= 1_500_000


def test_two_cups_are_boxed_in_any_way_that_is_offered(job: Job, visitor: Client) -> None:
    """Both ways round where they fit, and into a third vessel always; each leaves both in one."""
    add_pot("pail", 5000)
    for wanted in ("Pour this into", "Pour both"):
        first, second = poured(job, 800, capacity=900.0), poured(job, 300, capacity=2000.0)
        ways = dict(bench.boxable(job, first))
        value = next(
            v for v, words in ways.items() if words.startswith(wanted) and str(second.pk) == v.split(":")[0]
        )
        assert not any(
            words.endswith("in here") for v, words in ways.items() if v.startswith(f"{second.pk}:")
        )
        answer = visitor.post(f"/jobs/{job.pk}/mixing/{first.pk}/box/", {"vessel": value})
        assert answer.status_code == 302, answer.text
        target = MixVessel.objects.get(pk=int(answer["Location"].rstrip("/").split("/")[-1]))
        assert state_of(target).volume == pytest.approx(1100, rel=0.01)


SIZES = st.tuples(st.integers(1_000, 3_000_000), st.integers(1, 100))
"""µL that a cup holds, and how full it is, in hundredths."""


def filled(job: Job, capacity: int, percent: int, number: int) -> MixVessel:
    """A cup of one of the job's colours with so much in it, taken as it is."""
    row = MixVessel.objects.create(
        job=job, colour_number=number, kind="cup", name=f"cup {percent}", capacity=capacity, plan={"name": "Tan", "parts": []}
    )  # fmt: skip
    steps.pour(row, "base", max(1, capacity * percent // 100))
    steps.accept(row)
    return row


@given(
    SIZES,
    SIZES,
    st.lists(st.integers(1, 5_000), max_size=3, unique=True),
    st.integers(0, 2),
    st.integers(0, 5),
)
@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_boxing_is_offered_the_app_carries_out(
    job: Job,
    visitor: Client,
    one: tuple[int, int],
    two: tuple[int, int],
    pots: list[int],
    number: int,
    pick: int,
) -> None:
    """Over cups, fills and the shop's pots: no way that the page offers is refused, nothing is lost, nothing runs over, and it stays that colour's."""
    MixComponent.objects.get_or_create(key="base", defaults={"name": "Clear base", "density": 1.0})
    with transaction.atomic():
        for size in pots:
            add_pot(f"pot {size}", size)
        first, second = filled(job, *one, number), filled(job, *two, number)
        both = state_of(first).volume + state_of(second).volume
        offered = [(row, *way) for row in (first, second) for way in bench.boxable(job, row)]
        assert {value.split(":")[1] for _, value, _ in offered} >= {"new"}
        row, value, words = offered[pick % len(offered)]
        answer = visitor.post(f"/jobs/{job.pk}/mixing/{row.pk}/box/", {"vessel": value})
        assert answer.status_code == 302, words
        target = MixVessel.objects.get(pk=int(answer["Location"].rstrip("/").split("/")[-1]))
        state = state_of(target)
        assert state.volume == pytest.approx(both)
        assert state.volume <= state.capacity
        assert state.finished
        assert target.colour_number == number
        transaction.set_rollback(True)


@pytest.mark.parametrize(
    ("left", "aim", "pots"),
    [(300, 200, ()), (300, 650, (900,)), (890, 40, (500, 946)), (5, 2900, (3000,)), (700, 700, (1000, 1400))],
)
def test_a_top_up_is_begun_in_a_vessel_that_takes_what_is_left_of_the_batch_too(
    job: Job, visitor: Client, left: int, aim: int, pots: tuple[int, ...]
) -> None:
    for size in pots:
        add_pot(f"pot {size}", size)
    old = poured(job, left, capacity=1000.0)
    answer = visitor.post(f"/jobs/{job.pk}/mixing/{old.pk}/top-up/", {"aim": f"{aim} mL"})
    cup = MixVessel.objects.latest("pk")
    assert answer["Location"].rstrip("/").endswith(f"/{cup.pk}")
    for part in (cup.plan or {})["parts"]:
        steps.pour(cup, part["key"], round(1000 * aim * part["share"]))
    steps.accept(cup)
    ways = dict(bench.boxable(job, cup))
    value = next(v for v in ways if v.startswith(f"{old.pk}:here:"))
    both = state_of(old).volume + state_of(cup).volume
    assert visitor.post(f"/jobs/{job.pk}/mixing/{cup.pk}/box/", {"vessel": value}).status_code == 302
    assert state_of(cup).volume == pytest.approx(both)
    assert state_of(old).volume == 0


def test_what_comes_to_nothing_is_refused_and_makes_no_vessel(job: Job) -> None:
    row = poured(job, 800, capacity=900.0)
    for act in (
        lambda: loads.draw_off(row, 1e-7),
        lambda: loads.draw_off(row, 10.0, capacity=1e-7),
        lambda: keep_jar(row, 1e-7, name="Nothing"),
        lambda: steps.begin_cup(job, TAN, 1e-7),
        lambda: steps.begin_cup(job, TAN, 100.0, capacity=1e-7),
    ):
        with pytest.raises(Refusal):
            act()
    assert MixVessel.objects.count() == 1


def test_of_two_pot_lives_the_shorter_holds_and_an_undo_gives_the_own_one_back(job: Job) -> None:
    first, second = poured(job, 800, capacity=900.0), poured(job, 300, capacity=2000.0)
    for row, minutes in ((first, 240.0), (second, 480.0)):
        loads.crosslink(row, "Linker", 0.03, minutes)
    loads.box([first], second)
    second.refresh_from_db()
    assert second.pot_life == 240
    undo(Act.objects.filter(text__startswith="Boxed").latest("pk").pk)
    second.refresh_from_db()
    assert second.pot_life == 480


def test_what_is_advised_is_whole_steps_of_the_shops_balance(job: Job, visitor: Client) -> None:
    """60 mL hold 0.3 mL of black: 0.375 g. On a balance of 0.1 g that is 0.4 g, and the page says that the cup is small."""
    row = steps.begin_cup(job, TAN, 60)
    black = next(s for s in state_of(row).steps if s.key == "black")
    assert black.grams == pytest.approx(0.4)
    page = visitor.get(f"/jobs/{job.pk}/mixing/{row.pk}/").text
    assert "This cup is small for the balance." in page
    assert "160 mL" in page
    Shop.objects.update(balance_step=0.01)
    fine = steps.begin_cup(job, TAN, 60)
    assert next(s for s in state_of(fine).steps if s.key == "black").grams == pytest.approx(0.375, abs=0.006)
    assert state_of(fine).small is None


def test_a_true_tenth_of_a_gram_is_never_blamed(job: Job) -> None:
    """14 mL hold 0.0875 g of black: shown as 0.1 g; a true 0.1 g finishes the cup and nothing is said to have gone over."""
    row = poured(job, 14)
    state = state_of(row)
    assert state.finished
    assert state.need is not None
    assert state.need.over is None


def test_a_batch_mixed_again_has_a_number_not_a_chain_of_words(job: Job) -> None:
    first = poured(job, 400)
    names = [first.name]
    for _ in range(2):
        cup = mix_again(MixVessel.objects.latest("pk"), job, 200)
        steps.pour(cup, "base", 1000)
        names.append(cup.name)
    assert names == ["Tan, batch 1", "Tan, batch 2", "Tan, batch 3"]
