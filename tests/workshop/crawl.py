"""The app walked by its links: one page of each kind, and the forms on it as a browser would send them."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

from django.test import Client
from django.urls import Resolver404, resolve

LEFT_ALONE = {"csrfmiddlewaretoken", "act"}


@dataclass
class Form:
    """One form of a page: `values` as a browser would send them, the names of its file fields and of its buttons."""

    action: str
    post: bool
    values: list[tuple[str, str]] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    buttons: list[str] = field(default_factory=list)

    @property
    def names(self) -> list[str]:
        """The fields and buttons that are not files, each once."""
        return [
            n for n in dict.fromkeys([*(n for n, _ in self.values), *self.buttons]) if n not in LEFT_ALONE
        ]


class Forms(HTMLParser):
    """The links and forms of a page."""

    def __init__(self, at: str) -> None:
        super().__init__()
        self.at = at
        self.links: list[str] = []
        self.forms: list[Form] = []
        self.form: Form | None = None
        self.select = ""

    def handle_starttag(self, tag: str, pairs: list[tuple[str, str | None]]) -> None:
        facts = {key: value or "" for key, value in pairs}
        if tag == "a" and "href" in facts:
            self.links.append(urljoin(self.at, facts["href"]))
        elif tag == "form":
            action = urljoin(self.at, facts.get("action", "") or self.at)
            self.form = Form(action, facts.get("method", "get").lower() == "post")
            self.forms.append(self.form)
        elif self.form and facts.get("name"):
            self.take(tag, facts)
        if (
            self.form
            and tag == "option"
            and self.select
            and ("selected" in facts or self.is_new(self.select))
        ):
            self.form.values = [v for v in self.form.values if v[0] != self.select]
            self.form.values.append((self.select, facts.get("value", "")))

    def is_new(self, name: str) -> bool:
        return self.form is not None and all(name != known for known, _ in self.form.values)

    def take(self, tag: str, facts: dict[str, str]) -> None:
        assert self.form is not None
        kind = facts.get("type", "text")
        if tag == "select":
            self.select = facts["name"]
        elif tag == "textarea":
            self.form.values.append((facts["name"], ""))
        elif kind == "file":
            self.form.files.append(facts["name"])
        elif tag == "input" and (kind not in ("checkbox", "radio") or self.is_new(facts["name"])):
            self.form.values.append((facts["name"], facts.get("value", "on" if kind == "checkbox" else "")))
        elif tag == "button":
            self.form.buttons.append(facts["name"])

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "select":
            self.select = ""


def pages(visitor: Client, *, papers: bool = True) -> Iterator[tuple[str, Any, list[Form]]]:
    """One page of each kind that a link leads to, from the first on: its path, the answer, and its forms; papers and other files only where they are wanted."""
    waiting, kinds = deque(["/"]), set()
    while waiting:
        path = waiting.popleft()
        try:
            kind = str(resolve(urlsplit(path).path).url_name)
        except Resolver404:
            continue
        if kind in kinds or urlsplit(path).netloc or not (papers or urlsplit(path).path.endswith("/")):
            continue
        kinds.add(kind)
        answer = visitor.get(path)
        found = Forms(path)
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            found.feed(answer.content.decode())
        waiting.extend(found.links)
        yield path, answer, found.forms
