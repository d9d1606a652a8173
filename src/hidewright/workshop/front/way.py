"""The way through a job: what stands at each stage and where to go next, told from the rows."""

from dataclasses import dataclass, replace

from hidewright.dates import short_day
from hidewright.takeoff.enough import Status
from hidewright.units import Units, show_area
from hidewright.workshop.approvals import queries as approvals
from hidewright.workshop.colours import queries as colour
from hidewright.workshop.front.header import JobHeader
from hidewright.workshop.handover import queries as handover
from hidewright.workshop.inspection import queries as inspection
from hidewright.workshop.inspection import snag_queries as snags
from hidewright.workshop.intake import queries as intake
from hidewright.workshop.pieces import queries as survey
from hidewright.workshop.pieces.colour_queries import job_colours
from hidewright.workshop.shelf.models import MixVessel
from hidewright.workshop.shop.door import the_shop
from hidewright.workshop.shop.models import Job


@dataclass(frozen=True, slots=True)
class Waypoint:
    """One thing to do: the name of its page, what stands there in words, whether it is done, whether it comes next, and whether a shop may leave it out."""

    page: str
    what: str
    words: str
    done: bool
    next: bool = False
    may_skip: bool = False
    colour: int = 0
    """The number of the job's colour that the page is to open with."""


def way(job: Job, header: JobHeader, units: str) -> tuple[Waypoint, ...]:
    """What a job takes, in the order of the work; the first thing not done yet is the next."""
    found = (
        _pieces(job, units),
        _came_in(job),
        _target(job),
        _agreed(job),
        _recipe(job),
        _mixed(job, header),
        _planned(header),
        _inspected(job),
        _handed_over(job),
    )
    # What a shop may leave out (a receipt, an agreement) stands on the list, but is not held up as the next thing.
    first = next((i for i, point in enumerate(found) if not point.done and not point.may_skip), None)
    return tuple(replace(point, next=i == first) for i, point in enumerate(found))


def _pieces(job: Job, units: str) -> Waypoint:
    listed = survey.pieces(job)
    area = show_area(sum(p.area for p in listed), Units(units))
    words = (
        f"{len(listed)} listed, {area} to coat." if listed else "Bring a CSV file, or add them one by one."
    )
    return Waypoint("survey", "List the pieces", words, bool(listed))


def _came_in(job: Job) -> Waypoint:
    found = intake.counted_in(job)
    words = (
        f"{found.came} of {found.ours} here."
        if found.came
        else "Take in, tag and photograph what was brought."
    )
    return Waypoint("intake", "Take in the pieces", words, 0 < found.ours <= found.came, may_skip=True)


def _agreed(job: Job) -> Waypoint:
    stands = [approvals.standing(job, colour.number) for colour in job_colours(job)]
    open_words = [each.words for each in stands if not each.holds]
    words = open_words[0] if open_words else stands[0].words
    return Waypoint("approvals", "Agree on the colour", words, not open_words, may_skip=True)


def _handed_over(job: Job) -> Waypoint:
    out = handover.out_of(job)
    words = f"{out.words}." if out.words else "Pack every piece that came in, and have it signed."
    return Waypoint("handover", "Hand it over", words, 0 < out.of <= out.gone)


def _target(job: Job) -> Waypoint:
    return _of_colours(
        job,
        "Say which colour",
        colour.with_target(job),
        "The target is read.",
        "Bring a reading of the hidden original, a photo, or a typed colour.",
    )


def _recipe(job: Job) -> Waypoint:
    return _of_colours(
        job,
        "Choose a recipe",
        colour.with_recipe(job),
        "A recipe is chosen.",
        "Search the shop’s pigments and choose one of the recipes.",
    )


def _of_colours(job: Job, what: str, ready: set[int], done: str, open_: str) -> Waypoint:
    """A step that each of the job's colours takes: done when all have it; else the first that lacks it is named where there are several."""
    colours = job_colours(job)
    lacking = [each for each in colours if each.number not in ready]
    if not lacking:
        words = done if len(colours) == 1 else f"{done[:-1]} for each of the {len(colours)} colours."
        return Waypoint("colour", what, words, True)
    words = open_ if len(colours) == 1 else f"{' · '.join(each.label for each in lacking)}: {open_}"
    return Waypoint("colour", what, words, False, colour=lacking[0].number)


def _mixed(job: Job, header: JobHeader) -> Waypoint:
    if not MixVessel.objects.filter(job=job).exists():
        return Waypoint("mixing", "Mix the colour", "The first cup, one pour at a time.", False)
    enough = header.enough in (Status.ENOUGH, Status.DONE)
    words = "There is enough." if enough else "A cup is begun; there is not surely enough yet."
    return Waypoint("mixing", "Mix the colour", words, enough)


def _planned(header: JobHeader) -> Waypoint:
    if header.finish is None:
        return Waypoint("days", "Plan the days", "What lies on which table, day by day.", False)
    words = f"Planned to end on {short_day(header.finish)}."
    if header.stale:
        return Waypoint(
            "days", "Plan the days", f"{words} Work is left that this plan does not know: plan again.", False
        )
    return Waypoint("days", "Plan the days", words, True)


def _inspected(job: Job) -> Waypoint:
    stand = inspection.standing(job)
    waiting = snags.open_snags(job)
    words = f"{stand.seen} of {stand.total} good in sunlight and under a low lamp."
    if waiting:
        shop = the_shop()
        words += f" {waiting} open {shop.snag_word if waiting == 1 else shop.snag_words}."
    done = 0 < stand.total == stand.seen and not stand.again and not waiting
    return Waypoint("inspection", "Look at every piece", words, done)
