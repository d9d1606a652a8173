"""Owner, bench, viewer and a stranger against every address and method; signing in; what the database keeps of a session."""

import re
import subprocess
from pathlib import Path

import pytest
from django.conf import global_settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import get_resolver, reverse

from hidewright.refusals import Refusal
from hidewright.workshop import settings
from hidewright.workshop.frame.access import WithoutTokens
from hidewright.workshop.front import sign_in_actions as steps
from hidewright.workshop.front.shop_actions import add_person
from hidewright.workshop.shop.door import make_link
from hidewright.workshop.shop.models import Device, Person, Role
from own_shop import environment, words

pytestmark = pytest.mark.django_db

SECRETS = {Role.OWNER: "ten characters", Role.BENCH: "4711", Role.VIEWER: "0815"}
# The table by hand, from what the guide says of each role; every address that is not listed here is work of the bench.
FOR_OWNERS = {
    "shop", "health", "bring_job", "copies", "copy_now", "kept_copy", "bring_back", "people", "edit_person", "remove_person", "person_secret",
    "devices", "new_link", "shut_out",
}  # fmt: skip
FOR_ALL = {"who", "sign_in", "sign_out", "theme"}
METHODS = ("GET", "HEAD", "POST", "PUT", "DELETE")


def addresses() -> list[tuple[str, str]]:
    """Every address but the door itself, with made-up numbers in it."""
    found = []
    for pattern in get_resolver().url_patterns:
        route = str(pattern.pattern)
        if not route.startswith("door/"):
            filled = re.sub(r"<int:\w+>", "987654", route)
            found.append((str(pattern.name), "/" + re.sub(r"<\w+:\w+>", "no-such-thing", filled)))
    return found


@pytest.fixture
def people() -> dict[Role, Person]:
    made = {}
    for role in Role:
        made[role] = add_person(f"The {role.label}")
        steps.set_secret(made[role], role, SECRETS[role])
    return made


def signed_in(person: Person, role: Role) -> Client:
    client = Client(raise_request_exception=False)
    client.post(make_link(), {"name": role.label})
    answer = client.post(reverse("sign_in"), {"person": person.pk, "secret": SECRETS[role]})
    assert answer.status_code == 302
    return client


def allowed(name: str, role: Role, method: str) -> bool:
    if role is Role.OWNER or name in FOR_ALL:
        return True
    return name not in FOR_OWNERS and (role is Role.BENCH or method in ("GET", "HEAD"))


def test_every_address_by_role_and_method(
    people: dict[Role, Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The door decides before any view is called, so what lies behind is taken away, and its words, which are read below."""
    from django.http import HttpResponse

    from hidewright.workshop.frame import middleware

    reached = middleware.door(lambda request: HttpResponse("in"))
    monkeypatch.setattr(
        middleware,
        "render",
        lambda request, page, context=None, status=200: HttpResponse(page, status=status),
    )
    from django.test import RequestFactory

    wrong = []
    devices = {role: signed_in(person, role).session["device"] for role, person in people.items()}
    factory = RequestFactory()
    for name, address in addresses():
        for method in METHODS:
            for role in (*Role, None):
                request = factory.generic(method, address)
                request.session = {"device": devices[role]} if role else {}  # type: ignore[assignment]
                status = reached(request).status_code
                wanted = 200 if role is not None and allowed(name, role, method) else 403
                if status != wanted:
                    wrong.append((name, method, role, status))
    assert not wrong
    assert len(addresses()) > 100


def test_a_few_addresses_through_the_whole_app(people: dict[Role, Person]) -> None:
    viewer, bench, owner = (signed_in(people[role], role) for role in (Role.VIEWER, Role.BENCH, Role.OWNER))
    assert [c.get("/devices/").status_code for c in (viewer, bench, owner, Client())] == [403, 403, 200, 403]
    assert [c.get("/").status_code for c in (viewer, bench, owner, Client())] == [200, 200, 200, 403]
    assert viewer.post(reverse("new_job"), {"name": "x"}).status_code == 403
    assert bench.post(reverse("new_job"), {"name": ""}).status_code == 422
    assert owner.head("/").status_code == 200
    assert owner.head("/").content == b""


def test_without_an_owner_each_device_may_do_everything_as_on_ones_own_computer(visitor: Client) -> None:
    assert visitor.get("/devices/").status_code == 200


def test_with_an_owner_a_device_on_which_nobody_signed_in_may_look(
    visitor: Client, people: dict[Role, Person]
) -> None:
    assert visitor.get("/").status_code == 200
    assert visitor.post(reverse("new_job"), {"name": "x"}).status_code == 403
    # To say whom one is takes a proof now.
    answer = visitor.post(reverse("who"), {"person": people[Role.OWNER].pk})
    assert reverse("sign_in") in answer.headers["Location"]
    assert visitor.get("/devices/").status_code == 403


def test_wrong_tries_lead_to_a_pause_in_which_the_right_one_does_not_help(
    visitor: Client, people: dict[Role, Person]
) -> None:
    person = people[Role.BENCH]
    for _ in range(steps.TRIES):
        answer = visitor.post(reverse("sign_in"), {"person": person.pk, "secret": "0000"})
        assert answer.status_code == 422
    answer = visitor.post(reverse("sign_in"), {"person": person.pk, "secret": SECRETS[Role.BENCH]})
    assert answer.status_code == 422
    assert "Wait 5 minutes" in answer.content.decode()
    Person.objects.update(paused_until=None)
    assert (
        visitor.post(reverse("sign_in"), {"person": person.pk, "secret": SECRETS[Role.BENCH]}).status_code
        == 302
    )


def test_a_new_secret_signs_out_everywhere_and_the_last_owner_stays(people: dict[Role, Person]) -> None:
    bench = signed_in(people[Role.BENCH], Role.BENCH)
    steps.set_secret(people[Role.BENCH], Role.BENCH, "9999")
    assert bench.post(reverse("new_job"), {}).status_code == 403
    with pytest.raises(Refusal, match="only owner"):
        steps.set_secret(people[Role.OWNER], Role.BENCH, "12345")
    with pytest.raises(Refusal, match="at least 10"):
        steps.set_secret(people[Role.BENCH], Role.OWNER, "short")


def test_the_database_holds_no_key_of_a_session_and_no_secret(
    visitor: Client, people: dict[Role, Person]
) -> None:
    key = visitor.cookies["hidewright"].value
    assert Session.objects.exists()
    assert not Session.objects.filter(session_key=key).exists()
    assert visitor.get("/").status_code == 200
    stranger = Client()
    stranger.cookies["hidewright"] = Session.objects.first().session_key  # type: ignore[union-attr]
    assert stranger.get("/").status_code == 403
    assert not [p for p in Person.objects.all() if any(secret in p.secret for secret in SECRETS.values())]


def test_a_shut_out_device_is_out_though_its_person_is_signed_in(people: dict[Role, Person]) -> None:
    owner = signed_in(people[Role.OWNER], Role.OWNER)
    Device.objects.update(shut_out="2026-01-01T00:00Z")
    assert owner.get("/").status_code == 403


@pytest.mark.own_sqlite
def test_the_framework_s_own_check_for_a_network_has_nothing_to_say(tmp_path: Path) -> None:
    env = {**environment(tmp_path), "HIDEWRIGHT_TLS": "1"}
    env.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)
    said = words("manage", "check", "--deploy", "--fail-level", "INFO")
    done = subprocess.run(said, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_a_log_holds_no_token_of_a_link(client: Client, caplog: pytest.LogCaptureFixture) -> None:
    link = make_link()
    client.get(link)
    client.post("/door/made-up-token/", {"name": "x"})
    for record in caplog.records:
        WithoutTokens().filter(record)
    text = " ".join(record.getMessage() for record in caplog.records)
    assert "/door/…/" in text
    assert link not in text
    assert "made-up-token" not in text


def test_an_address_that_is_not_ours_is_not_answered(client: Client) -> None:
    assert "testserver" not in settings.ALLOWED_HOSTS
    assert client.get("/", headers={"host": "evil.example"}).status_code == 400


def test_a_shop_s_secrets_are_hashed_slowly_whatever_the_tests_do() -> None:
    real = getattr(settings, "PASSWORD_HASHERS", global_settings.PASSWORD_HASHERS)
    assert real[0].endswith((".PBKDF2PasswordHasher", ".ScryptPasswordHasher", ".Argon2PasswordHasher"))
