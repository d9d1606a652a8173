"""Draw the house into docs/growing.md from the imports of today: `python docs/draw_house.py` (`--check` only compares).

Each folder has a line with the folders that it imports. `make check` refuses a drawing that is out of date.
"""

import sys
from pathlib import Path

import grimp

PAGE = Path(__file__).resolve().parent / "growing.md"
START, END = "<!-- the house, drawn by docs/draw_house.py -->", "<!-- end of the drawing -->"
ROOT = "hidewright"
SPLIT = ("colour", "planning", "workshop")
"""Folders whose inside is drawn too."""


def rooms(graph: grimp.ImportGraph, parent: str) -> list[str]:
    """The packages and modules right below `parent`, those that nothing below them imports last."""
    return sorted(graph.find_children(parent))


def imports(graph: grimp.ImportGraph, parent: str) -> dict[str, list[str]]:
    """Each room below `parent` with the other rooms of the same parent that it imports."""
    found = {}
    for room in rooms(graph, parent):
        inside = {room, *graph.find_descendants(room)}
        wanted = {name for module in inside for name in graph.find_modules_directly_imported_by(module)}
        heads = {
            name.removeprefix(f"{parent}.").split(".")[0]
            for name in wanted - inside
            if name.startswith(f"{parent}.")
        }
        found[room.removeprefix(f"{parent}.")] = sorted(heads - {room.rsplit(".", 1)[1]})
    return found


def in_order(edges: dict[str, list[str]]) -> list[str]:
    """The rooms bottom up: a room after all that it imports; rooms of one height by name."""
    placed: list[str] = []
    while len(placed) < len(edges):
        free = sorted(r for r in edges if r not in placed and set(edges[r]) & set(edges) <= set(placed))
        if not free:
            raise SystemExit(f"These folders import each other: {sorted(set(edges) - set(placed))}")
        placed += free
    return placed


def drawing() -> str:
    """The whole house as plain lines, bottom up."""
    graph = grimp.build_graph(ROOT, cache_dir=None)
    blocks = []
    for parent in (ROOT, *(f"{ROOT}.{name}" for name in SPLIT)):
        edges = imports(graph, parent)
        width = max(map(len, edges))
        lines = [f"{room:{width}}  {', '.join(edges[room]) or '(nothing here)'}" for room in in_order(edges)]
        blocks.append("\n".join([f"{parent.replace('.', '/')}", *lines]))
    return "```\n" + "\n\n".join(blocks) + "\n```"


def with_drawing(text: str) -> str:
    """The page's text with the drawing of today between its marks."""
    before, _, rest = text.partition(START)
    _, _, after = rest.partition(END)
    return f"{before}{START}\n{drawing()}\n{END}{after}"


def main() -> None:
    """Write the drawing, or with `--check` only say whether it is up to date."""
    text = PAGE.read_text(encoding="utf-8")
    fresh = with_drawing(text)
    if "--check" in sys.argv[1:]:
        if fresh != text:
            raise SystemExit("docs/growing.md shows an old house: run python docs/draw_house.py")
        return
    PAGE.write_text(fresh, encoding="utf-8")


if __name__ == "__main__":
    main()
