"""`PlanShown` as plain data for JSON, and back; clock times are ISO local times without a zone."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from hidewright.charts.plan import ActShown, LyingShown, PlanShown
from hidewright.charts.tables import TableTop
from hidewright.refusals import Refusal


def plan_to_data(plan: PlanShown) -> dict[str, Any]:
    """The plan as dictionaries, lists, text and numbers."""
    return {
        "tables": [{"name": t.name, "length_m": t.length_m, "depth_m": t.depth_m} for t in plan.tables],
        "people": list(plan.people),
        "acts": [
            {
                "key": a.key,
                "piece": a.piece,
                "part": a.part,
                "act": a.act,
                "person": a.person,
                "start": a.start.isoformat(),
                "end": a.end.isoformat(),
                "table": a.table,
                "place": a.place,
                "kind": a.kind,
                "caution": a.caution,
            }
            for a in plan.acts
        ],
        "lying": [
            {
                "piece": part.piece,
                "table": part.table,
                "start_m": part.start_m,
                "length_m": part.length_m,
                "depth_m": part.depth_m,
                "since": part.since.isoformat(),
                "until": part.until.isoformat(),
                "state": part.state,
            }
            for part in plan.lying
        ],
        "hours": [[start.isoformat(), end.isoformat()] for start, end in plan.hours],
        "own_hours": [
            [name, [[start.isoformat(), end.isoformat()] for start, end in stretches]]
            for name, stretches in plan.own_hours
        ],
        "finish": plan.finish.isoformat(),
        "bound": plan.bound.isoformat() if plan.bound else None,
        "promised": plan.promised.isoformat() if plan.promised else None,
    }


def plan_from_data(data: Mapping[str, Any]) -> PlanShown:
    """The plan that `plan_to_data` wrote; refuses data that is no plan."""
    try:
        return PlanShown(
            tables=tuple(TableTop(**table) for table in data["tables"]),
            people=tuple(data["people"]),
            acts=tuple(_act(act) for act in data["acts"]),
            lying=tuple(_lying(part) for part in data["lying"]),
            hours=tuple((_moment(start), _moment(end)) for start, end in data["hours"]),
            finish=_moment(data["finish"]),
            bound=_day(data.get("bound")),
            promised=_day(data.get("promised")),
            own_hours=tuple(
                (name, tuple((_moment(start), _moment(end)) for start, end in stretches))
                for name, stretches in data.get("own_hours", ())
            ),
        )
    except (KeyError, TypeError, ValueError) as error:
        if isinstance(error, Refusal):
            raise
        raise Refusal(f"This is no plan: {error!r}.", where="plan", remedy="Make the plan again.") from error


def _act(data: Mapping[str, Any]) -> ActShown:
    return ActShown(**{**data, "start": _moment(data["start"]), "end": _moment(data["end"])})


def _lying(data: Mapping[str, Any]) -> LyingShown:
    return LyingShown(**{**data, "since": _moment(data["since"]), "until": _moment(data["until"])})


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
