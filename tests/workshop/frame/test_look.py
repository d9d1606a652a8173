"""The stylesheets keep to the one scale of type, colour and space (docs/decisions/0017-one-scale.md)."""

import re
from pathlib import Path

import pytest

from hidewright import workshop

STYLES = sorted((Path(workshop.__path__[0]) / "static").glob("*.css"))
SPACE = {0, 2, 4, 6, 8, 10, 12, 14, 16, 20, 24, 28, 32}
NAMED = {("routes.css", 96)}
"""Spaces outside the scale, each with its stylesheet: a step that a link jumps to stands clear of the edge."""
ROOT = re.compile(r":root \{.*?\}", re.S)
RULE = re.compile(r"(?:margin|padding|gap|row-gap|column-gap)[\w-]*: ([^;}]+)")


def faults(name: str, text: str) -> list[str]:
    """What a stylesheet names that is not on the scale."""
    plain = re.sub(r"/\*.*?\*/", "", ROOT.sub("", text), flags=re.S)
    found = re.findall(r"#[0-9a-fA-F]{3,8}(?=[\s;,)}!])", plain)
    found += [
        size
        for size in re.findall(r"font-size: ([^;}]+)", plain)
        if not re.match(r"var\(--type-\w+\)|inherit", size)
    ]
    spaces = (float(px) for rule in RULE.findall(plain) for px in re.findall(r"(?<![\w.])-?([\d.]+)px", rule))
    return found + [f"{px:g}px" for px in spaces if px not in SPACE and (name, px) not in NAMED]


@pytest.mark.parametrize("style", STYLES, ids=lambda path: path.name)
def test_a_stylesheet_keeps_to_the_scale(style: Path) -> None:
    assert not faults(style.name, style.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    "rule", ["a { color: #123; }", "a { font-size: 15px; }", "a { margin: 0 7px; }", "a { font-size: .9rem }"]
)
def test_what_is_not_on_the_scale_is_seen(rule: str) -> None:
    assert len(faults("app.css", rule)) == 1
