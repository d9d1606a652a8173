"""An act whose process is killed, for tests of the one path: run as a command it tries every place where the plug may be pulled.

python killed.py kill      prints, for each place, what was done before and after the form was sent again
python killed.py race      sends one form from two processes at once; prints the answers and what was done

The database is that of the settings, migrated and empty.
"""

import json
import os
import signal
import sys
from collections.abc import Callable
from typing import Any

FORM = {"in-volume": "2 L", "in-lot": "L1"}
PAGE = "/products/clear/receive/"


def ready() -> Any:
    """A browser that is in, and a product to receive."""
    from django.db import connections
    from django.test import Client

    from hidewright.takeoff.products import Product, Role
    from hidewright.workshop.shelf import actions
    from hidewright.workshop.shop.door import make_link

    actions.add_product(Product("clear", "Clear base", Role.BASE))
    client = Client(SERVER_NAME="localhost")
    client.post(make_link(), {"name": "test bench"})
    connections.close_all()
    return client


def counts() -> dict[str, int]:
    """What the act writes, and the tokens."""
    from django.db import connections

    from hidewright.workshop.shelf.models import ProductLot, StockMove
    from hidewright.workshop.shop.models import Act, Token

    found = {model.__name__: model.objects.count() for model in (StockMove, ProductLot, Act, Token)}
    connections.close_all()
    return found


class Plug:
    """Kills this process at the `at`-th place: before a statement, before a commit, or after one."""

    def __init__(self, at: int) -> None:
        self.at, self.passed = at, 0

    def place(self) -> None:
        """Pass one place, or die there."""
        self.passed += 1
        if self.passed == self.at:
            os.kill(os.getpid(), signal.SIGKILL)

    def __call__(self, execute: Callable[..., Any], *words: Any) -> Any:
        self.place()
        return execute(*words)

    def commit(self, commit: Callable[[], Any]) -> Callable[[], None]:
        """A commit with a place before it and one after."""

        def wrapped() -> None:
            self.place()
            commit()
            self.place()

        return wrapped


def send(client: Any, token: str, at: int = 0) -> tuple[int, str]:
    """Send the form, killed at a place (0: nowhere); status and address of the answer."""
    from django.db import connection

    plug = Plug(at)
    connection._commit = plug.commit(connection._commit)
    with connection.execute_wrapper(plug):
        answer = client.post(PAGE, {**FORM, "act": token})
    return answer.status_code, answer.headers.get("Location", "")


def in_child(work: Callable[[], object]) -> int:
    """Do it in a process of its own; its exit status, below nothing for a signal."""
    child = os.fork()
    if child == 0:
        work()
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def kill() -> list[dict[str, Any]]:
    """Pull the plug at every place of the request in turn, and send the form again each time."""
    client, rows = ready(), []
    for at in range(1, 200):
        before, token = counts(), f"kill-{at}"
        ended = in_child(lambda at=at, token=token: send(client, token, at))  # type: ignore[misc]
        between = counts()
        again = in_child(lambda token=token: send(client, token))  # type: ignore[misc]
        after = counts()
        moved = [between[name] - before[name] for name in before]
        rows.append(
            {"ended": ended, "again": again, "kept": moved, "moves": after["StockMove"] - before["StockMove"]}
        )
        if ended == 0:
            break
    return rows


def race() -> dict[str, Any]:
    """Two processes send the same form at the same moment."""
    client = ready()
    gate, answers, children = os.pipe(), os.pipe(), []
    for _ in range(2):
        child = os.fork()
        if child == 0:
            os.read(gate[0], 1)
            os.write(answers[1], (json.dumps(send(client, "both")) + "\n").encode())
            os._exit(0)
        children.append(child)
    before = counts()
    os.write(gate[1], b"go")
    ended = [os.waitpid(child, 0)[1] for child in children]
    lines = os.read(answers[0], 10_000).decode().split()
    text = " ".join(lines).replace("] [", "]\n[").splitlines()
    return {
        "ended": ended,
        "answers": [json.loads(line) for line in text],
        "moves": counts()["StockMove"] - before["StockMove"],
    }


def main() -> None:
    """Carry out what was asked."""
    import django

    django.setup()
    print(json.dumps({"kill": kill, "race": race}[sys.argv[1]]()))


if __name__ == "__main__":
    main()
