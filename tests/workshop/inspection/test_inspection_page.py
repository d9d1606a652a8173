"""Inspection: checks by eye and by figure, certificates, signatures; wrong entries are struck out, never erased."""

from html import unescape

import pytest
from django.test import Client

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.inspection import actions as steps
from hidewright.workshop.inspection import queries as gather
from hidewright.workshop.inspection import snag_actions as snags
from hidewright.workshop.inspection.models import BurnRecord, CheckEntry, Signature
from hidewright.workshop.pieces.actions import import_csv
from hidewright.workshop.shop import undo as acts
from hidewright.workshop.shop.models import Act, Job, Person

pytestmark = pytest.mark.django_db


def undo_last() -> None:
    acts.undo(Act.objects.order_by("-id")[0].pk)


@pytest.fixture
def two_pieces(job: Job) -> Job:
    """A job with two pieces."""
    head, first, *_ = demo.text("pieces.csv").splitlines()
    mark = first.split(",")[0]
    import_csv(job, "\n".join([head, first.replace(mark, "C01", 1), first.replace(mark, "C02", 1)]))
    return job


def test_both_lights_good_make_a_piece_seen(visitor: Client, two_pieces: Job) -> None:
    where = f"/jobs/{two_pieces.pk}/inspection/eye/"
    visitor.post(where, {"piece": ["C01", "C02"], "look": "sun-good"})
    assert gather.standing(two_pieces).seen == 0
    visitor.post(where, {"piece": ["C01"], "look": "lamp-good"})
    assert gather.standing(two_pieces).seen == 1
    visitor.post(where, {"piece": ["C01"], "look": "lamp-again", "note": "run at the edge"})
    stands = gather.standing(two_pieces)
    assert (stands.seen, stands.again) == (0, 1)
    undo_last()
    assert gather.standing(two_pieces).seen == 1
    assert CheckEntry.objects.filter(strikes=None).count() == 4, "an undone check stays on record"


def test_a_look_at_no_piece_or_in_no_light_is_refused(visitor: Client, two_pieces: Job) -> None:
    where = f"/jobs/{two_pieces.pk}/inspection/eye/"
    assert visitor.post(where, {"look": "sun-good"}).status_code == 422
    assert visitor.post(where, {"piece": ["C01"], "look": "moon-good"}).status_code == 422
    assert visitor.post(where, {"piece": ["C01"], "look": "sun-maybe"}).status_code == 422
    assert not CheckEntry.objects.exists()


def test_a_figure_is_shown_beside_its_source(visitor: Client, two_pieces: Job) -> None:
    sent = {"piece": "C01", "kind": "adhesion", "value": "1,5", "result": "again"}
    where = f"/jobs/{two_pieces.pk}/inspection/"
    assert visitor.post(f"{where}figure/", {f"figure-{k}": v for k, v in sent.items()}).status_code == 302
    shown = visitor.get(where).content.decode()
    assert "1.5 N/10 mm beside at least 2: short of the figure" in shown
    assert "ISO 11644" in shown
    row = CheckEntry.objects.get()
    assert visitor.post(f"{where}checks/{row.pk}/strike/", {"reason": ""}).status_code == 422
    assert visitor.post(f"{where}checks/{row.pk}/strike/", {"reason": "wrong strip"}).status_code == 302
    assert gather.standing(two_pieces).again == 0
    assert "Struck out: wrong strip" in visitor.get(where).content.decode()
    assert visitor.post(f"{where}checks/{row.pk}/strike/", {"reason": "again"}).status_code == 422


def test_a_figure_that_cannot_be_read_is_refused_beside_its_field(visitor: Client, two_pieces: Job) -> None:
    sent = {"piece": "C01", "kind": "cross-cut", "value": "7B", "result": "good"}
    answer = visitor.post(
        f"/jobs/{two_pieces.pk}/inspection/figure/", {f"figure-{k}": v for k, v in sent.items()}
    )
    assert answer.status_code == 422
    assert "“7B” is no class" in unescape(answer.content.decode())


def test_a_certificate_is_compared_and_never_judged(visitor: Client, job: Job) -> None:
    where = f"/jobs/{job.pk}/inspection/"
    sent = {
        "test": "vertical",
        "certificate": "T-1",
        "specimen": "calf, base coat, clear",
        "length": "150 160 335",
        "after": "2 3 4",
        "drip": "0 0 0",
        "conditioning": "70 50 24",
    }
    assert visitor.post(f"{where}certificates/", {f"burn-{k}": v for k, v in sent.items()}).status_code == 302
    shown = unescape(visitor.get(where).content.decode())
    assert "215.0 mm" in shown, "the mean of three specimens"
    assert "203.2 mm" in shown, "8 in, 14 CFR 25 Appendix F Part I (a)(1)(ii)"
    assert '<span class="mark">over</span>' in shown
    assert "A licensed or authorised person judges" in shown
    for claim in ("passed", "compliant", "airworthy"):
        assert claim not in shown.lower()
    undo_last()
    assert BurnRecord.objects.filter(strikes=None, struck_by=None).count() == 0


@pytest.mark.parametrize(
    ("kept", "lacking"),
    [
        ("70 50 24", False),
        ("70 50 equilibrium", False),
        ("70 50 23", True),
        ("80 50 equilibrium", True),
        ("70 50", True),
    ],
)
def test_specimens_are_kept_for_a_day_or_until_equilibrium(
    visitor: Client, job: Job, kept: str, lacking: bool
) -> None:
    """14 CFR 25 Appendix F Part I (b)(1): until moisture equilibrium is reached or for 24 h."""
    sent = {
        "test": "vertical",
        "certificate": "T",
        "specimen": "s",
        "length": "1 1 1",
        "after": "1 1 1",
        "drip": "0 0 0",
    }
    sent["conditioning"] = kept
    where = f"/jobs/{job.pk}/inspection/certificates/"
    assert visitor.post(where, {f"burn-{k}": v for k, v in sent.items()}).status_code == 302
    found = gather.burn_records(job)[0].comparison
    assert found is not None
    assert bool(found.lacking) is lacking
    alone = {**sent, "conditioning": "equilibrium"}
    assert visitor.post(where, {f"burn-{k}": v for k, v in alone.items()}).status_code == 422


def test_a_certificate_with_too_few_specimens_says_what_is_lacking(job: Job) -> None:
    steps.keep_certificate(
        job, "vertical", specimen="s", certificate="c", figures={"length": [1], "after": [1], "drip": [1]}
    )
    found = gather.burn_records(job)[0].comparison
    assert found is not None
    assert len(found.lacking) == 2


@pytest.mark.parametrize(
    "wrong",
    [
        {"length": "1 2", "after": "1"},
        {"length": "much"},
        {"test": "horizontal", "run": "254"},
        {"length": "", "after": "", "drip": ""},
    ],
)
def test_figures_that_cannot_be_are_refused(visitor: Client, job: Job, wrong: dict[str, str]) -> None:
    sent = {"test": "vertical", "certificate": "T", "specimen": "s", "length": "1", "after": "1", "drip": "1"}
    answer = visitor.post(
        f"/jobs/{job.pk}/inspection/certificates/", {f"burn-{k}": v for k, v in {**sent, **wrong}.items()}
    )
    assert answer.status_code == 422
    assert not BurnRecord.objects.exists()


def test_a_signature_keeps_how_things_stood_and_is_struck_out_by_a_counter_entry(
    visitor: Client, two_pieces: Job
) -> None:
    person = add_person("Ana")
    snags.add(two_pieces, "Seam open")
    where = f"/jobs/{two_pieces.pk}/inspection/"
    assert (
        visitor.post(f"{where}sign/", {"sign-person": person.pk, "sign-words": "Looked"}).status_code == 302
    )
    row = Signature.objects.get()
    assert row.covers["snags"] == 1
    assert "0 of 2 pieces" in row.covers["words"]
    strike = f"{where}signatures/{row.pk}/strike/"
    assert visitor.post(strike, {"strike-person": person.pk}).status_code == 422
    assert visitor.post(strike, {"strike-person": person.pk, "strike-reason": "too early"}).status_code == 302
    shown = visitor.get(where).content.decode()
    assert "Looked" in shown
    assert "too early" in shown
    with pytest.raises(Refusal, match="already"):
        steps.strike_signature(row, person=person, reason="again")
    assert Signature.objects.count() == 2


def test_somebody_who_left_cannot_sign(visitor: Client, job: Job) -> None:
    person = add_person("Ben")
    Person.objects.filter(pk=person.pk).update(active=False)
    sent = {"sign-person": person.pk, "sign-words": "Looked"}
    assert visitor.post(f"/jobs/{job.pk}/inspection/sign/", sent).status_code == 422
    person.refresh_from_db()
    with pytest.raises(Refusal, match="not on the list"):
        steps.sign(job, person, "Looked")


def test_an_empty_inspection_says_what_to_do(visitor: Client, job: Job) -> None:
    shown = visitor.get(f"/jobs/{job.pk}/inspection/").content.decode()
    assert "Bring the pieces on the page Survey" in shown
    assert "Nobody is listed yet" in shown
