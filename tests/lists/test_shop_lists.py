"""Lists of tables, hours, people, pigments and contacts as other people write them; what can be read in two ways is a fault or a question."""

import random
import re

import pytest

from hidewright.lists.draft import Draft, draft_of, remembered
from hidewright.lists.grid import grid_of_file, grid_of_text, text_of_file
from hidewright.planning.problem.csv_in import read_hours
from hidewright.planning.problem.lists_in import HOURS, PEOPLE, TABLES, people_of, weekdays_in, weeks_of
from hidewright.refusals import Refusal
from hidewright.workshop.inspection.contact_list_actions import CONTACTS
from hidewright.workshop.pigments.list_actions import PIGMENTS
from lists.foreign import ods, xlsx
from lists.test_foreign_lists import agreed
from lists.test_mutations import allowed

BENCHES = "Benches of the hall\nBench;Long;Deep;Never\nBig one;16 ft;3 ft;metal\nBy the door;2,4 m;90 cm;\nSill;7' 6;18 in;wood, metal\n"
ROSTER = "Name\tMon\tTue\tWed\tThu\tFri\tSat\nRosa\t8-4\t8-4\toff\t8–12, 1–5\t7:30am to 2pm\t\nTeo\t9-17\t9-17\t9-17\t9-17\t9-15\t9-12\n"


def hours(draft: Draft) -> dict[tuple[str, int], list[tuple[float, float]]]:
    """Person and weekday → stretches in hours."""
    return {(s.person, s.weekday): [(a / 60, b / 60) for a, b in s.stretches] for s in draft.values}


def test_tables_in_feet_and_metres_with_a_title_above() -> None:
    draft = draft_of(TABLES, grid_of_text(BENCHES), us=True)
    taken = draft_of(TABLES, grid_of_text(BENCHES), agreed(draft), us=True)
    found = {table.key: (table.length, table.depth, sorted(table.not_for)) for table in taken.values}
    assert found == {
        "big-one": (pytest.approx(4.8768), pytest.approx(0.9144), ["metal"]),
        "by-the-door": (2.4, 0.9, []),
        "sill": (pytest.approx(2.286), pytest.approx(0.4572), ["metal", "wood"]),
    }
    assert draft_of(TABLES, grid_of_text(BENCHES), memory=remembered(taken, agreed(draft))).ready


def test_a_bare_number_on_a_list_of_tables_is_asked_about() -> None:
    draft = draft_of(TABLES, grid_of_text("name,length,depth\nLong,18,3\n"), us=True)
    assert {(c.meaning, c.needs_unit) for c in draft.unsure} == {("length", True), ("depth", True)}
    assert not draft.ready


def test_a_roster_with_a_column_a_day() -> None:
    draft = draft_of(HOURS, grid_of_text(ROSTER))
    taken = draft_of(HOURS, grid_of_text(ROSTER), agreed(draft))
    found = hours(taken)
    assert found["Rosa", 0] == [(8, 16)]
    assert found["Rosa", 2] == []
    assert found["Rosa", 3] == [(8, 12), (13, 17)]
    assert found["Rosa", 4] == [(7.5, 14)]
    assert found["Teo", 5] == [(9, 12)]
    assert ("Rosa", 5) not in found
    assert weeks_of(taken.values)["Teo"].hours[4] == ((540, 900),)


@pytest.mark.parametrize(
    ("text", "days"),
    [("Mon-Fri", range(5)), ("weekdays", range(5)), ("Mo, Mi + Sa", (0, 2, 5)), ("Tue to Thu", (1, 2, 3)), ("daily", range(7)), ("Mo–Do", range(4)), ("Sun.", (6,))],
)  # fmt: skip
def test_weekdays_as_people_write_them(text: str, days: object) -> None:
    assert weekdays_in(text) == tuple(days)  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["", "Fri-Mon", "Mon, Mon", "Funday", "Mon-Wed-Fri", "t"])
def test_what_is_no_weekday_is_refused(text: str) -> None:
    with pytest.raises(Refusal) as refused:
        weekdays_in(text)
    assert refused.value.remedy


def test_faults_of_all_rows_come_at_once() -> None:
    text = "who,days,hours\n,Mon-Fri,8-16\nRosa,Funday,8-12\nRosa,Tue,9-8:75\n,Friday,8-14\n"
    draft = draft_of(HOURS, grid_of_text(text))
    assert [(fault.line, fault.meaning) for fault in draft.faults] == [
        (3, "weekday"),
        (4, "hours"),
        (5, "weekday"),
    ]


NIGHTS = {0: ((1320, 1440),), 1: ((0, 360), (1320, 1440)), 2: ((0, 360),), 6: ((600, 720),)}
"""22:00 to 06:00 on two nights, and a short Sunday, as the hours of each day."""


@pytest.mark.parametrize(
    "text",
    ["who,day,hours\n,Mon-Tue,22-6\n,Sun,10-12\n", "who,Mon,Tue,Sun\n,22-6,10pm to 6am,10-12\n"],
)
def test_a_shift_over_midnight_goes_on_into_the_next_day(text: str) -> None:
    draft = draft_of(HOURS, grid_of_text(text))
    taken = draft_of(HOURS, grid_of_text(text), agreed(draft))
    assert not taken.faults
    assert weeks_of(taken.values)[""].hours == NIGHTS
    assert read_hours("weekday,hours\nMonday,22-6\nTuesday,22:00-06:00\nSunday,10-12\n")[""].hours == NIGHTS


@pytest.mark.parametrize(
    ("rows", "line"), [(",Mon,22-6\n,Tue,5-9\n", 3), (",Sun,8pm-2am\n,Mon,1-4\n", 3), (",Mon,22-18\n", 2)]
)
def test_a_shift_into_the_next_one_or_of_most_of_a_day_is_a_fault(rows: str, line: int) -> None:
    draft = draft_of(HOURS, grid_of_text(f"who,day,hours\n{rows}"))
    assert [(fault.line, fault.meaning) for fault in draft.faults] == [(line, "hours")]


def test_people_without_keys_and_their_weeks() -> None:
    people = draft_of(PEOPLE, grid_of_text("Name;Does;Holidays\nRosa Ito;strip, clean;2026-03-09\nTeo;;\n"))
    assert not people.faults
    weeks = weeks_of(draft_of(HOURS, grid_of_text("who,day,hours\n,Mon-Fri,8-16\nTeo,Mon,9-12\n")).values)
    rosa, teo = people_of(people.values, weeks)
    assert (rosa.key, sorted(rosa.skills or ()), len(rosa.absences)) == ("rosa-ito", ["clean", "strip"], 1)
    assert rosa.week == weeks[""]
    assert teo.week == weeks["Teo"]
    with pytest.raises(Refusal):
        people_of(people.values, {})


def test_pigments_of_a_price_list_get_keys_from_the_colour_index() -> None:
    text = "Paste;C.I.;SG;Volume solids;Price/L\nChalk white;PW 18;1,62;41 %;38,50\nCarbon;PBk7;1,15;0,3;52\nHouse mix;;1,2;0,35;40\n"
    draft = draft_of(PIGMENTS, grid_of_text(text))
    taken = draft_of(PIGMENTS, grid_of_text(text), agreed(draft))
    found = {
        each.key: (each.facts["density"], each.facts["solids"], str(each.facts["price"]))
        for each in taken.values
    }
    assert found == {
        "PW18": (1.62, 0.41, "38.50"),
        "PBk7": (1.15, 0.3, "52.00"),
        "HOUSE-MIX": (1.2, 0.35, "40.00"),
    }


def test_contacts_with_mail_and_telephone() -> None:
    draft = draft_of(
        CONTACTS, grid_of_text("Company\tFor\tE-mail\tTel\nTrim & Co\tupholstery\tx@example.org\t0123 456\n")
    )
    assert [(c.name, c.does, c.reach) for c in draft.values] == [
        ("Trim & Co", "upholstery", "x@example.org, 0123 456")
    ]


def test_readings_in_a_spreadsheet_are_read_as_text() -> None:
    rows = [["name", "l", "a", "b"], ["Seat", 52.125, 4.5, "18,9"]]
    assert text_of_file(xlsx(rows)) == text_of_file(ods(rows)) == 'name,l,a,b\nSeat,52.125,4.5,"18,9"\n'
    assert text_of_file(b"name,l\nSeat,1\n") == "name,l\nSeat,1\n"


ODD = (
    "", "18", "1,234", "1.234 m", "0,450 m", "16 ft 6", "5 6 m", "1 234 mm", "18 x 3 ft", "2,4 m", "24 ft", "56 kg", "~2 m", "2-3 m", "7½ ft", "1e3 mm", "300 cm", "2.4m", "-2 m", "nan",
)  # fmt: skip


def test_no_length_of_a_table_is_taken_that_its_cell_does_not_say() -> None:
    """A hundred seeded changes; the reader that judges is that of the pieces' mutations."""
    taken = refused = 0
    for seed in range(100):
        dice = random.Random(f"tables {seed}")
        lines = [line.split(";") for line in BENCHES.splitlines()]
        for _ in range(dice.randrange(1, 3)):
            lines[dice.randrange(2, 5)][dice.randrange(1, 3)] = dice.choice(ODD)
        grid = grid_of_file("\n".join(";".join(line) for line in lines).encode() + b"\n")
        draft = draft_of(TABLES, grid, agreed(draft_of(TABLES, grid, us=True)), us=True)
        refused += not draft.ready
        columns = {c.meaning: c for c in draft.columns if c.meaning in ("length", "depth")}
        for line in draft.lines:
            for table in line.values:
                taken += 1
                for size, column in columns.items():
                    cell = grid.rows[grid.lines.index(line.line)][column.at]
                    said = allowed(
                        re.sub(r"(?<=\d)m$", " m", str(cell)), column.unit or "m", draft.style.mark
                    )
                    assert any(abs(getattr(table, size) - each) < 1e-6 for each in said), (seed, cell, table)
    assert taken > 150
    assert refused > 30
