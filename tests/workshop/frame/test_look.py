"""The stylesheets keep to the one scale of type, colour and space (docs/decisions/0017-one-scale.md)."""

import re
from pathlib import Path

import pytest

from hidewright import workshop

STYLES = sorted((Path(workshop.__path__[0]) / "static").glob("*.css"))
SPACE = {0, 2, 4, 6, 8, 10, 12, 14, 16, 20, 24, 28, 32}
NAMED = {("routes.css", 96)}
"""Spaces outside the scale, each with its stylesheet: a step that a link jumps to stands clear of the edge."""
ROOT = re.compile(r"^:root(?:, \.\w+)* \{.*?\}", re.S | re.M)
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


def values(style: str) -> dict[str, str]:
    """The custom properties that a stylesheet sets for the whole page."""
    blocks = ROOT.findall((STYLES[0].parent / style).read_text(encoding="utf-8"))
    return dict(re.findall(r"(--[\w-]+|color-scheme): ([^;}]+);", "".join(blocks)))


def test_the_dark_theme_is_other_values_of_the_same_colours_and_nothing_else() -> None:
    """Paint and drawings keep their ground in it, and every other colour of the scale has a value of its own."""
    text = re.sub(r"/\*.*?\*/", "", (STYLES[0].parent / "dark.css").read_text(encoding="utf-8"), flags=re.S)
    assert not ROOT.sub("", text).strip()
    light, dark = values("app.css"), values("dark.css")
    unchanged = {"--swatch-ground", "--sheet"}
    colours = {name for name, value in light.items() if value.startswith("#")}
    assert colours >= unchanged
    assert set(dark) == colours - unchanged | {"color-scheme"}


def test_where_colours_are_judged_the_light_values_hold_in_both_themes() -> None:
    """The grey under swatches has no tint."""
    text = (STYLES[0].parent / "app.css").read_text(encoding="utf-8")
    assert ":root, .swatches, .variants {" in text
    ground = values("app.css")["--swatch-ground"]
    assert ground[1:3] == ground[3:5] == ground[5:7]


def test_what_is_seen_on_a_phone_alone_is_nothing_else_in_another_stylesheet() -> None:
    """A class that hides a part of a page would hide whatever carries it for another reason: forms vanished on a laptop once."""
    text = {style.name: style.read_text(encoding="utf-8") for style in STYLES}
    hidden = re.search(r"^([.\w, -]+) \{ display: none !important; \}", text.pop("app.css"), re.M)
    assert hidden
    for name in hidden[1].split(", "):
        assert not [style for style, words in text.items() if re.search(rf"\{name}[ ,.:{{]", words)]
