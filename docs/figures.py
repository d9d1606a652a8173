"""Measured figures in the documents: each number carries a key of docs/figures.json, and is written from there.

An entry may have `row` and `form` (the bench's row that gives it, and how it is written), `least` and `most` (its goal: the README's verdict is held to it).
In a page a figure is a number with its key behind it, which a reader does not see: `86.7<!-- takeoff.new.quote -->`.

    python docs/figures.py                 writes every figure anew, and the list at the foot of docs/measured.md
    python docs/figures.py --check         refuses a stale figure, a key that nobody knows or uses, and a measured number without a key
    python docs/figures.py --bench         takes the values of build/bench.json first, with today's date and commit
    python docs/figures.py --adopt BENCH --seed "5000 to 5015"     gives a key to every bare number of docs/measured.md, as measured by BENCH today
"""

import argparse
import json
import re
import subprocess
from datetime import date
from pathlib import Path
from typing import Any

DOCS = Path(__file__).resolve().parent
ROOT = DOCS.parent
LIST = DOCS / "figures.json"
BENCH = ROOT / "build" / "bench.json"
PAGE = DOCS / "measured.md"
PAGES = [
    ROOT / "README.md",
    *sorted(DOCS.glob("*.md")),
    *sorted(DOCS.glob("guide/*.md")),
    *sorted(DOCS.glob("science/*.md")),
]
NUMBER = r"(?<![\w.,])[-−]?\d*[.,]?\d+(?!\w|[.,]\d)"
FIGURE = re.compile(rf"({NUMBER})<!-- ([a-z0-9.-]+) -->")
BARE = re.compile(rf"{NUMBER}(?!<!-- )")
HISTORY = ("history.md", "measured.md", "growing.md")
SAYS = re.compile(
    r"\b(?:[Ww]e measured|[Mm]easured \(|[Mm]easured in|[Mm]easured on|in trials|make bench|bench `|over \d+ simulated|Of 1,000)\b"
)
"""How a paragraph begins to speak of what was measured: then its figures carry keys, or belong on the page of what was measured before."""
START, END = "<!-- the list, written by docs/figures.py -->", "<!-- end of the list -->"

Entry = dict[str, Any]


def entries() -> dict[str, Entry]:
    """The figures by key."""
    known: dict[str, Entry] = json.loads(LIST.read_text(encoding="utf-8"))
    return known


def save(known: dict[str, Entry]) -> None:
    """Write the figures, by key."""
    lines = [f" {json.dumps(key)}: {json.dumps(known[key], ensure_ascii=False)}" for key in sorted(known)]
    LIST.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def measured_cells(text: str) -> list[tuple[int, int]]:
    """Start and end of every cell that holds what was measured: in the tables, all but the first column and one headed Goal."""
    found: list[tuple[int, int]] = []
    at, heads = 0, list[str]()
    for line in text.split("\n"):
        if not line.startswith("|"):
            heads = []
        elif not heads:
            heads = [cell.strip() for cell in line.strip("|").split("|")]
        elif "---" not in line:
            start = at + 1
            for head, cell in zip(heads, line[1:].split("|"), strict=False):
                if head != heads[0] and not head.startswith("Goal"):
                    found.append((start, start + len(cell)))
                start += len(cell) + 1
        at += len(line) + 1
    return found


def bare_numbers(text: str) -> list[tuple[int, int]]:
    """The numbers of the measured cells that have no key, by place."""
    inside, _, _ = text.partition(START)
    found = []
    for start, end in measured_cells(inside):
        cell = FIGURE.sub(lambda match: " " * len(match[0]), text[start:end])
        found += [(start + match.start(), start + match.end()) for match in BARE.finditer(cell)]
    return found


def written(text: str, known: dict[str, Entry]) -> str:
    """The page with every figure as the list has it."""
    return FIGURE.sub(lambda m: f"{known[m[2]]['value'] if m[2] in known else m[1]}<!-- {m[2]} -->", text)


def listed(text: str, known: dict[str, Entry]) -> str:
    """The page of what was measured, with the list at its foot."""
    before, mark, rest = text.partition(START)
    if not mark:
        return text
    groups: dict[tuple[str, str, str, str], list[str]] = {}
    for key, one in sorted(known.items()):
        groups.setdefault((one["bench"], one["commit"], one["seed"], one["on"]), []).append(key)
    rows = [
        f"| `{bench}` | {made} | {seed} | {on} | {len(keys)}: {', '.join(sorted({key.rpartition('.')[0] for key in keys}))} |"
        for (bench, made, seed, on), keys in sorted(groups.items())
    ]
    head = "| By | Commit | Seeds | On | Figures |\n|---|---|---|---|---|"
    return f"{before}{START}\n{head}\n" + "\n".join(rows) + f"\n{END}{rest.partition(END)[2]}"


def from_bench(known: dict[str, Entry]) -> dict[str, str]:
    """By key what build/bench.json says now, where it was run: the value in the figure's own form."""
    if not BENCH.exists():
        return {}
    rows = {row["name"]: row["value"] for row in json.loads(BENCH.read_text(encoding="utf-8"))}
    now = {}
    for key, one in known.items():
        value = rows.get(one.get("row", ""))
        if isinstance(value, int | float):
            text = format(value, one.get("form", "g"))
            now[key] = text.replace("0.", ".", 1) if one["value"].startswith(".") and abs(value) < 1 else text
    return now


def faults() -> list[str]:
    """What is not in order, in words; a person mends it as the words say."""
    known, found, used = entries(), list[str](), set[str]()
    for path in PAGES:
        text = path.read_text(encoding="utf-8")
        name = path.relative_to(ROOT)
        for number, key in FIGURE.findall(text):
            used.add(key)
            if key not in known:
                found.append(f"{name}: no figure has the key {key}")
            elif number != known[key]["value"]:
                found.append(
                    f"{name}: {key} says {number}, docs/figures.json {known[key]['value']}: run python docs/figures.py"
                )
        if path.name == "README.md":
            found += [f"{name}: {words}" for words in verdicts(text, known)]
        if path == PAGE:
            found += [
                f"{name}: {text[a:b]} has no key ({text[max(0, a - 40) : b]!r}): see its head"
                for a, b in bare_numbers(text)
            ]
            if listed(text, known) != text:
                found.append(f"{name}: its list is old: run python docs/figures.py")
        elif path.name not in HISTORY:
            found += [f"{name}: {words}" for words in unkeyed(text)]
    found += [f"docs/figures.json: nothing shows {key}" for key in sorted(set(known) - used)]
    found += [
        f"docs/figures.json: {key} is {known[key]['value']}, the bench now says {value}: run python docs/figures.py --bench"
        for key, value in from_bench(known).items()
        if value != known[key]["value"]
    ]
    return found


def verdicts(text: str, known: dict[str, Entry]) -> list[str]:
    """Rows of a table with one figure that has a goal (`least`, `most` in the list) and say “holds” or “missed” against it."""
    found = []
    for row in (line for line in text.split("\n") if line.startswith("|")):
        goals = [key for _, key in FIGURE.findall(row) if {"least", "most"} & set(known.get(key, ()))]
        for key in goals[:1]:
            one = known[key]
            value = float(one["value"].replace(",", "").replace("−", "-"))
            holds = one.get("least", value) <= value <= one.get("most", value)
            if ("missed" in row) == holds or ("holds" in row.rpartition("|")[0].rpartition("|")[2]) != holds:
                found.append(
                    f"{key} is {one['value']} and {'holds' if holds else 'misses its goal'}: the row says otherwise"
                )
    return found


def unkeyed(text: str) -> list[str]:
    """Paragraphs that speak of what was measured and hold a decimal or a percentage without a key."""
    found = []
    for paragraph in re.split(r"\n\s*\n", re.sub(r"```.*?```", "", text, flags=re.DOTALL)):
        if SAYS.search(paragraph):
            plain = re.sub(r"`[^`]*`", "", FIGURE.sub("", paragraph))
            numbers = re.findall(r"(?<![\w.])\d*\.\d+\b|\b\d+ %", plain)
            if numbers:
                found.append(
                    f"{numbers[0]} is said to be measured and has no key: {paragraph.strip()[:60]!r}"
                )
    return found


def commit() -> str:
    """The commit that is checked out, seven figures."""
    done = subprocess.run(
        ["git", "rev-parse", "--short=7", "HEAD"], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return done.stdout.strip()


def _slug(text: str, words: int) -> str:
    return "-".join(re.findall(r"[a-z0-9]+", text.lower())[:words]) or "row"


def adopt(bench: str, seed: str) -> None:
    """Give a key to each bare number of the page, named after its heading and row."""
    known, text, on = entries(), PAGE.read_text(encoding="utf-8"), date.today().isoformat()
    keyed = []
    for start, end in bare_numbers(text):
        heading = text[:start].rpartition("\n## ")[2].partition("\n")[0]
        row = text[:start].rpartition("\n")[2].split("|")[1]
        stem = f"{_slug(heading, 2)}.{_slug(row, 4)}"
        key = next(name for n in range(1, 1000) if (name := f"{stem}.{n}") not in known)
        known[key] = {
            "value": text[start:end],
            "bench": bench,
            "row": "",
            "commit": commit(),
            "seed": seed,
            "on": on,
        }
        keyed.append((end, key))
    for end, key in reversed(keyed):
        text = f"{text[:end]}<!-- {key} -->{text[end:]}"
    PAGE.write_text(text, encoding="utf-8")
    save(known)


def main() -> None:
    """Write the figures, or with `--check` only say whether they are in order."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--check", action="store_true")
    ask.add_argument("--bench", action="store_true")
    ask.add_argument("--adopt", metavar="BENCH")
    ask.add_argument("--seed", default="as the bench has them")
    asked = ask.parse_args()
    if asked.check:
        if found := faults():
            raise SystemExit("\n".join(found))
        return
    if asked.adopt:
        adopt(asked.adopt, asked.seed)
    known = entries()
    if asked.bench:
        for key, value in from_bench(known).items():
            known[key] |= {"value": value, "commit": commit(), "on": date.today().isoformat()}
        save(known)
    for path in PAGES:
        text = path.read_text(encoding="utf-8")
        fresh = written(text, known)
        fresh = listed(fresh, known) if path == PAGE else fresh
        if fresh != text:
            path.write_text(fresh, encoding="utf-8")


if __name__ == "__main__":
    main()
