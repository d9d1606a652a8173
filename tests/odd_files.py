"""Files that nobody should bring, and a command's end on them: for tests that a command refuses in words and never breaks."""

import json
import os
import random
from importlib import import_module
from typing import Any

from click import ClickException
from click.testing import CliRunner

from hidewright.refusals import Refusal

TRIES = int(os.environ.get("HIDEWRIGHT_ODD", "1")) * 8
"""Spoiled files for each kind; HIDEWRIGHT_ODD asks for more, as for the odd input of the pages."""
JUNK = (
    b"",
    b"   \n\n",
    b"\x00" * 64,
    b"\xff\xfeA",
    b"%PDF-1.7\n" + bytes(range(256)),
    b"\x89PNG\r\n\x1a\n" + b"\x00" * 40,
    b"\xff\xd8\xff\xe0" + bytes(range(200)),
    b"name,400\n\xc3\x28,\n",
    b'a,b\n"1',
    b"<?xml version='1.0'?><a>",
    b"<!DOCTYPE a [<!ENTITY b 'bb'>]><a>&b;</a>",
    b"{",
    b"[]",
    b"{}",
    b"null",
    b'{"hidewright": "pigments"}',
    b'{"hidewright": "pigments", "specular": true, "k1": 0.04, "k2": 0.6, "pigments": [{"key": "A", "k": [1e999]}]}',
    b"[" * 100_000,
    b'CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID NM_400\nEND_DATA_FORMAT\nBEGIN_DATA\n"torn 0.3\nEND_DATA\n',
    b"CGATS.17\nBEGIN_DATA\n1 2\nEND_DATA\n",
    "ключ;имя\n١;½\n".encode(),
    b"name,l,a,b\nA,1e999,nan,-inf\n",
    b"name,wavelength,reflectance\nA,1e308,1e308\n",
    ("name," + ",".join(str(nm) for nm in range(400, 701, 10)) + "\nA," + ",".join(["1e300"] * 31)).encode(),
    b"left,top,right,bottom,l,a,b\n9e9,0,1,1,50,0,0\n",
)


def ended(words: list[str]) -> int:
    """The exit code as the shell would see it; anything but a refusal in words is a fault of ours and is raised."""
    command = import_module(f"hidewright.cli.{words[0]}").command
    done = CliRunner().invoke(command, words[1:])
    if isinstance(done.exception, Refusal):
        assert str(done.exception).strip()
        assert "Traceback" not in str(done.exception)
        return 2
    if done.exception is not None and not isinstance(done.exception, SystemExit | ClickException):
        raise done.exception
    return done.exit_code


def spoiled(data: bytes, random_: random.Random) -> bytes:
    """A good file with one thing wrong: cut off, a cell replaced, a column gone, a line doubled, other bytes in it."""
    way = random_.choice(["cut", "cell", "cell", "column", "double", "bytes", "swap", "unit"])
    if way == "cut":
        return data[: random_.randrange(len(data))]
    if way == "bytes":
        at = random_.randrange(len(data))
        return data[:at] + random_.randbytes(random_.randrange(1, 40)) + data[at + 5 :]
    lines = data.decode("utf-8", errors="replace").splitlines()
    at = random_.randrange(len(lines))
    cells = lines[at].split(",")
    if way == "double":
        lines.insert(at, lines[at])
    elif way == "swap":
        return "\n".join(lines).replace(",", random_.choice([";", "\t", " ", "\x00"])).encode()
    elif way == "column":
        column = random_.randrange(len(lines[0].split(",")))
        lines = [",".join(c for i, c in enumerate(line.split(",")) if i != column) for line in lines]
    elif way == "unit":
        return "\n".join(lines).replace("0.", random_.choice(["", "9", "1e9", "-", "0,"])).encode()
    else:
        cells[random_.randrange(len(cells))] = random_.choice(
            [
                "",
                " ",
                "NaN",
                "inf",
                "-1",
                "1e308",
                "9" * 40,
                "1,5",
                "½",
                "x" * 500,
                "\x00",
                "=1+1",
                '"',
                "null",
                "PW6=",
                "true",
                "{}",
            ]
        )
        lines[at] = ",".join(cells)
    return "\n".join(lines).encode()


ODD_VALUES: tuple[Any, ...] = (
    None,
    True,
    -1,
    0,
    1e308,
    float("nan"),
    "",
    "x" * 300,
    "2026-02-30",
    [],
    {},
    [[]],
    "½",
    "\x00",
    10**40,
)


def spoiled_json(data: bytes, random_: random.Random) -> bytes:
    """Good JSON with one thing wrong inside: a value of another kind, one left out, a list cut short; or torn as text."""
    if random_.random() < 0.2:
        return data[: random_.randrange(len(data))]
    told = json.loads(data)
    places = list(_places(told))
    holder, key = random_.choice(places)
    if random_.random() < 0.3:
        del holder[key]
    else:
        holder[key] = random_.choice(ODD_VALUES)
    return json.dumps(told).encode()


def _places(node: Any) -> Any:
    """(holder, key) of everything inside, at any depth."""
    keys = list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else []
    for key in keys:
        yield node, key
        yield from _places(node[key])
