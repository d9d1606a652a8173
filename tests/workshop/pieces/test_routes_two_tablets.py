"""Two tablets change one route at the same moment: exactly one of them is heard, the other is told so."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection, connections

from hidewright.planning.problem.shipped_routes import SHIPPED
from hidewright.refusals import Refusal
from hidewright.workshop.pieces import route_actions as steps
from hidewright.workshop.pieces import route_queries as routes
from hidewright.workshop.pieces.models import ShopRoute
from hidewright.workshop.shop.models import Act

ROUNDS = 8


@pytest.mark.django_db(transaction=True)
def test_of_two_changes_at_once_one_counts_and_nothing_is_lost() -> None:
    if connection.vendor != "postgresql":
        pytest.skip("threads share SQLite's memory; two connections need PostgreSQL")
    steps.remove_step("leather", 0, 0)
    for _ in range(ROUNDS):
        version = ShopRoute.objects.get(key="leather").version
        before = routes.shown("leather", "metric").route.steps
        both = Barrier(2)

        def change(number: int, version: int = version, both: Barrier = both) -> bool:
            try:
                both.wait()
                steps.remove_step("leather", version, number)
            except Refusal:
                return False
            finally:
                connections.close_all()
            return True

        with ThreadPoolExecutor(2) as pool:
            heard = list(pool.map(change, (0, 1)))
        assert sum(heard) == 1
        after = routes.shown("leather", "metric").route.steps
        lost = 0 if heard[0] else 1
        assert after == before[:lost] + before[lost + 1 :]
    assert Act.objects.filter(undo_name="routes.draft").count() == ROUNDS + 1
    assert len(routes.shown("leather", "metric").route.steps) == len(SHIPPED[0].steps) - ROUNDS - 1
