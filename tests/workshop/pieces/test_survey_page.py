"""The Survey page: bring a list, look at it, take it; add, change, mark, remove, undo."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from hidewright import demo
from hidewright.refusals import Refusal
from hidewright.survey import make_piece
from hidewright.survey.csv_in import read_pieces
from hidewright.workshop.lists.models import BroughtList
from hidewright.workshop.pieces import actions as steps
from hidewright.workshop.pieces import queries as gather
from hidewright.workshop.pieces.models import Piece
from hidewright.workshop.shop.models import Act, Job
from hidewright.workshop.shop.undo import undo
from workshop.sent_forms import list_form


def url(job: Job, rest: str = "") -> str:
    return f"/jobs/{job.pk}/survey/{rest}"


def upload(text: str, name: str = "pieces.csv") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, text.encode(), "text/csv")


def bring(visitor: Client, job: Job, text: str) -> BroughtList:
    answer = visitor.post(f"/jobs/{job.pk}/lists/pieces/", {"file": upload(text)})
    assert answer.status_code == 302, answer.content.decode()
    return BroughtList.objects.latest("id")


def look(row: BroughtList) -> str:
    return f"/jobs/{row.job_id}/lists/brought/{row.pk}/"


def take(visitor: Client, row: BroughtList, how: str) -> int:
    """Say that what is guessed is right, then take it as it is shown."""
    visitor.post(look(row), list_form(visitor.get(look(row)).content.decode()) | {"look": "1"})
    return visitor.post(
        look(row), list_form(visitor.get(look(row)).content.decode()) | {"take": how}
    ).status_code


@pytest.fixture
def filled(job: Job) -> Job:
    steps.import_csv(job, demo.text("pieces.csv"))
    return job


def test_an_empty_list_says_what_to_do(visitor: Client, job: Job) -> None:
    page = visitor.get(url(job)).content.decode()
    assert "No piece is listed yet" in page
    assert "example.csv" in page
    assert b"key,name" in visitor.get(url(job, "example.csv")).content


def test_the_example_can_be_brought_back(visitor: Client, job: Job) -> None:
    bring(visitor, job, visitor.get(url(job, "example.csv")).content.decode())


def test_a_list_is_shown_before_it_is_taken(visitor: Client, job: Job) -> None:
    brought = bring(visitor, job, demo.text("pieces.csv"))
    assert not gather.pieces(job)
    page = visitor.get(look(brought)).content.decode()
    assert "Nothing has changed yet" in page
    assert "LC1-seat" in page
    assert take(visitor, brought, "add") == 302
    assert gather.pieces(job) == read_pieces(demo.text("pieces.csv"))
    assert "LC1-seat" in visitor.get(url(job)).content.decode()
    assert visitor.post(look(brought), {"take": "add"}).status_code == 422


def test_faults_are_shown_by_row_and_nothing_is_kept(visitor: Client, job: Job) -> None:
    text = "key,name,shape,length (mm),width\nA,a,panel,500,x\nB,b,blob,1 m,1 m\n"
    page = visitor.get(look(bring(visitor, job, text))).content.decode()
    assert "Row 2, width" in page
    assert "“blob”" in page
    assert not Piece.objects.exists()


def test_no_file_and_an_endless_list_of_faults_are_said_too(visitor: Client, job: Job) -> None:
    assert visitor.post(f"/jobs/{job.pk}/lists/pieces/", {}).status_code == 422
    text = "key,name,shape,length (m),width (m)\n" + "".join(f"K{n},a,panel,x,1\n" for n in range(190))
    assert "And 40 more" in visitor.get(look(bring(visitor, job, text))).content.decode()


def test_replacing_the_list_can_be_undone(visitor: Client, filled: Job) -> None:
    before = gather.pieces(filled)
    brought = bring(visitor, filled, "key,name,shape,length (mm),width (mm)\nLC1-seat,new,panel,500,400\n")
    assert take(visitor, brought, "replace") == 302
    assert [p.name for p in gather.pieces(filled)] == ["new"]
    undo(Act.objects.latest("id").pk)
    assert gather.pieces(filled) == before
    assert BroughtList.objects.get(pk=brought.pk).taken is None


def test_a_list_of_known_marks_can_only_replace(visitor: Client, filled: Job) -> None:
    brought = bring(visitor, filled, demo.text("pieces.csv"))
    assert take(visitor, brought, "add") == 422
    assert BroughtList.objects.get(pk=brought.pk).taken is None


def test_the_list_survives_the_round_trip(visitor: Client, filled: Job) -> None:
    saved = visitor.get(url(filled, "pieces.csv")).content.decode()
    brought = bring(visitor, filled, saved)
    before = gather.pieces(filled)
    assert take(visitor, brought, "replace") == 302
    assert gather.pieces(filled) == before


PIECE = {
    "key": "N1", "name": "new pad", "group": "Chair", "shape": "cushion", "length": "22 1/2 in", "width": "500", "thickness": "80",
    "material": "leather", "condition": "worn", "sat_on": "on", "count": "2",
}  # fmt: skip


def test_pieces_are_added_by_hand_and_undone(visitor: Client, job: Job) -> None:
    answer = visitor.post(url(job, "add/"), PIECE)
    assert answer.status_code == 302
    made = gather.pieces(job)
    assert [p.key for p in made] == ["N1-1", "N1-2"]
    assert made[0].length == pytest.approx(0.5715)
    undo(Act.objects.latest("id").pk)
    assert not gather.pieces(job)


def test_another_piece_starts_like_the_last(visitor: Client, job: Job) -> None:
    answer = visitor.post(url(job, "add/"), {**PIECE, "group": "Chair 3 & 4", "then": "another"})
    page = visitor.get(answer.headers["Location"]).content.decode()
    assert 'value="Chair 3 &amp; 4"' in page
    assert f'value="{PIECE["shape"]}" checked' in page
    assert 'value="N1"' not in page


def test_absurd_dimensions_are_refused_beside_their_field(visitor: Client, job: Job) -> None:
    answer = visitor.post(url(job, "add/"), {**PIECE, "length": "90 m"})
    assert answer.status_code == 422
    assert "not that of a cushion" in answer.content.decode()
    assert not Piece.objects.exists()


def test_a_mark_cannot_be_given_twice(visitor: Client, filled: Job) -> None:
    answer = visitor.post(url(filled, "add/"), {**PIECE, "key": "LC1-seat", "count": "1"})
    assert answer.status_code == 422
    assert "Give each piece its own mark" in answer.content.decode()


def test_a_piece_is_changed_and_changed_back(visitor: Client, filled: Job) -> None:
    row = gather.rows(filled).get(key="LC1-seat")
    page = visitor.get(url(filled, f"pieces/{row.pk}/")).content.decode()
    assert "underside" in page
    change = {**PIECE, "key": "LC1-seat", "version": str(row.version), "length": "600"}
    assert visitor.post(url(filled, f"pieces/{row.pk}/"), change).status_code == 302
    assert gather.rows(filled).get(key="LC1-seat").length == pytest.approx(0.6)
    undo(Act.objects.latest("id").pk)
    assert gather.rows(filled).get(key="LC1-seat").length == pytest.approx(0.56)


def test_two_tablets_do_not_overwrite_each_other(visitor: Client, filled: Job) -> None:
    row = gather.rows(filled).get(key="LC1-seat")
    change = {**PIECE, "key": "LC1-seat", "version": str(row.version)}
    assert visitor.post(url(filled, f"pieces/{row.pk}/"), change).status_code == 302
    answer = visitor.post(url(filled, f"pieces/{row.pk}/"), {**change, "length": "700"})
    assert answer.status_code == 422
    assert "meanwhile" in answer.content.decode()


@pytest.mark.parametrize("units", ["metric", "us"])
def test_an_unchanged_form_changes_no_number(visitor: Client, filled: Job, units: str) -> None:
    from hidewright.workshop.shop.models import Shop

    Shop.objects.update(units=units)
    row = gather.rows(filled).get(key="LC1-seat")
    before = gather.value(row)
    page = visitor.get(url(filled, f"pieces/{row.pk}/"))
    form = page.context["form"]
    data = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False, "")}
    assert visitor.post(url(filled, f"pieces/{row.pk}/"), data).status_code == 302
    after = gather.value(gather.rows(filled).get(key="LC1-seat"))
    assert after.area == pytest.approx(before.area, rel=1e-4)
    assert (after.strip, after.turned, after.sat_on) == (before.strip, before.turned, before.sat_on)


def test_many_pieces_are_set_and_removed_at_once(visitor: Client, filled: Job) -> None:
    ids = list(gather.rows(filled).filter(group="Trim").values_list("pk", flat=True))
    answer = visitor.post(url(filled, "many/"), {"piece": ids, "many-condition": "overcoated"})
    assert answer.status_code == 302
    assert all(p.strip for p in gather.pieces(filled) if p.group == "Trim")
    undo(Act.objects.latest("id").pk)
    assert not any(p.strip for p in gather.pieces(filled) if p.group == "Trim")
    visitor.post(url(filled, "many/"), {"group": ["Lounge chair 1"], "remove": "1"})
    assert len(gather.pieces(filled)) == 79
    undo(Act.objects.latest("id").pk)
    assert len(gather.pieces(filled)) == 86


def test_nothing_ticked_is_refused(visitor: Client, filled: Job) -> None:
    assert visitor.post(url(filled, "many/"), {"remove": "1"}).status_code == 422
    assert visitor.post(url(filled, "many/"), {"many-strip": "yes"}).status_code == 422


def test_undoing_a_removal_whose_mark_is_taken_is_refused(filled: Job) -> None:
    row = gather.rows(filled).get(key="DR1")
    steps.remove_pieces(filled, [row.pk])
    removal = Act.objects.latest("id").pk
    steps.add_pieces(
        filled, make_piece(key="DR1", name="other", group="", shape="panel", length=0.5, width=0.4)
    )
    with pytest.raises(Refusal):
        undo(removal)
    assert len(gather.pieces(filled)) == 86


def test_finding(visitor: Client, filled: Job) -> None:
    page = visitor.get(url(filled), {"find": "drawer"}).content.decode()
    assert "DF1" in page
    assert "LC1-seat" not in page
    assert "fits" in visitor.get(url(filled), {"find": "no such thing"}).content.decode()


def test_another_jobs_piece_is_not_found(visitor: Client, filled: Job) -> None:
    from datetime import date

    from hidewright.workshop.front.job_actions import open_job

    other = open_job("Another", starts=date(2026, 3, 2), promised=None)
    row = gather.rows(filled).first()
    assert row is not None
    assert visitor.get(url(other, f"pieces/{row.pk}/")).status_code == 404


def test_words_of_a_file_stay_words(visitor: Client, job: Job) -> None:
    steps.import_csv(
        job, "key,name,shape,length,width,notes\nA,<b>bold</b>,panel,500,400,<script>x</script>\n"
    )
    page = visitor.get(url(job)).content.decode()
    assert "<script>x" not in page
    assert "&lt;b&gt;bold" in page


def test_a_long_list_is_folded_and_opens_where_one_was(visitor: Client, filled: Job) -> None:
    """More than a dozen pieces stand folded, with what is out of the ordinary counted; after a change its group is open."""
    page = visitor.get(url(filled)).content.decode()
    assert "<details open>" not in page
    assert "2 both sides" in page
    row = Piece.objects.get(job=filled, key="LC2-seat")
    assert "survey/?at=Lounge%20chair%202" in visitor.get(url(filled, f"pieces/{row.pk}/")).content.decode()
    assert visitor.get(url(filled) + "?at=Lounge%20chair%202").content.decode().count("<details open>") == 1
    assert visitor.get(url(filled) + "?find=Lounge").content.decode().count("<details open>") == 6


def test_sizes_in_the_wrong_unit_are_asked_about_before_and_after_they_are_taken(
    visitor: Client, job: Job
) -> None:
    """A list in inches read as millimetres: nothing refuses it, since such sizes may be; the page asks."""
    text = "key,name,shape,length (mm),width (mm)\nA,panel,panel,22,20\nB,panel,panel,1180,260\n"
    row = bring(visitor, job, text)
    assert "are the units right? A." in visitor.get(look(row)).content.decode()
    assert take(visitor, row, "add") == 302
    assert visitor.get(f"/jobs/{job.pk}/survey/").content.decode().count("is the size right?") == 1


def test_a_long_file_is_folded_and_a_torn_one_refused_by_line(visitor: Client, job: Job) -> None:
    head = "key,name,shape,length,width,notes\n"
    rows = [f"P{n},panel,panel,400,300,x\n" for n in range(14)]
    assert "All 14 rows" in visitor.get(look(bring(visitor, job, head + "".join(rows)))).content.decode()
    torn = {"file": upload((head + "".join(rows))[:-8])}
    answer = visitor.post(f"/jobs/{job.pk}/lists/pieces/", torn)
    assert answer.status_code == 422
    assert "line 15" in answer.content.decode()
    assert "breaks off" in answer.content.decode()
