"""What a browser would send of a form on a page, as it stands: what is ticked, chosen and filled in, without its buttons."""

from html.parser import HTMLParser


class _Fields(HTMLParser):
    """The fields of the form that holds the field `print`, which is that of a brought list."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self.form: dict[str, str] | None = None
        self.select = ""

    def handle_starttag(self, tag: str, pairs: list[tuple[str, str | None]]) -> None:
        facts = {key: value or "" for key, value in pairs}
        if tag == "form":
            self.form = {}
        elif self.form is None:
            return
        elif tag == "select":
            self.select = facts["name"]
        elif tag == "option" and self.select and ("selected" in facts or self.select not in self.form):
            self.form[self.select] = facts.get("value", "")
        elif facts.get("name") and (facts.get("type") not in ("checkbox", "radio") or "checked" in facts):
            self.form |= {facts["name"]: facts.get("value", "on")} if tag == "input" else {}

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self.select = ""
        elif tag == "form":
            if self.form and "print" in self.form:
                self.fields = self.form
            self.form = None


def list_form(page: str) -> dict[str, str]:
    """The form of a brought list on its page."""
    reader = _Fields()
    reader.feed(page)
    return reader.fields
