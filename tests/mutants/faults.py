"""Plausible single faults: what a tired person could have written instead, found in the syntax tree of a module.

A fault is one small change: a comparison the other way round, a term left out, a constant that is off, a guard, filter, decorator or transaction that is missing. What cannot
matter (annotations, words of refusals, what is logged) is left alone. Faults of a module are numbered in the order of its text, so that a number names one.
"""

import ast
import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

Change = Callable[[], None]

TURNED = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.In: ast.NotIn,
    ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
EDGE = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
OPPOSITE = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
TWINS = {
    "min": "max", "max": "min", "any": "all", "all": "any", "ceil": "floor", "floor": "ceil", "minimum": "maximum", "maximum": "minimum",
    "argmin": "argmax", "argmax": "argmin", "amin": "amax", "filter": "exclude", "exclude": "filter",
}  # fmt: skip
WITHOUT = {
    "abs", "round", "sqrt", "sorted", "reversed", "ceil", "floor", "log", "exp", "square", "cumsum",
}  # fmt: skip
QUERY = {"filter", "exclude", "order_by", "distinct", "select_for_update"}
KEPT = {
    "property", "setter", "staticmethod", "classmethod", "abstractmethod", "overload", "dataclass", "cached_property", "lru_cache", "cache",
    "contextmanager", "wraps", "command", "option", "argument", "group", "pass_context", "runtime_checkable", "filter", "simple_tag", "inclusion_tag",
}  # fmt: skip
"""Decorators without which the code would not run at all, or would only be slower."""
WORDS = {
    "Refusal", "Caution", "Progress", "debug", "info", "warning", "exception", "error", "echo", "cast", "TypeVar", "NewType", "getLogger",
    "namedtuple", "field", "dataclass", "lru_cache", "cache", "ValidationError", "option", "argument", "secho", "format",
}  # fmt: skip
"""Calls whose arguments are words, types or limits of a cache: a fault in them is no fault of the computing."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One plausible fault: its number in its `module`, the `function` it is in ("" for the module itself), its `names` (those a statement outside of functions sets),
    the `line`, the `kind` of slip and the code `before` and `after`."""

    module: str
    number: int
    function: str
    names: tuple[str, ...]
    line: int
    kind: str
    before: str
    after: str

    @property
    def key(self) -> str:
        """What names this fault as long as its function's text stays: a short hash."""
        text = f"{self.module}|{self.function}|{self.kind}|{self.before}|{self.after}"
        return hashlib.sha256(text.encode()).hexdigest()[:16]


@dataclass(slots=True)
class _Place:
    """A node with where it hangs, so that another can take its place."""

    parent: ast.AST
    field: str
    index: int | None
    node: ast.AST
    function: str
    names: tuple[str, ...]

    def put(self, other: ast.AST) -> None:
        ast.copy_location(other, self.node)
        ast.fix_missing_locations(other)
        if self.index is None:
            setattr(self.parent, self.field, other)
        else:
            getattr(self.parent, self.field)[self.index] = other


def faults_of(path: Path, module: str) -> list[Fault]:
    """Every plausible fault of a module, in the order of its text."""
    found = []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for number, (place, kind, after, _) in enumerate(_candidates(tree)):
        node = place.node
        line = getattr(node, "lineno", None) or getattr(place.parent, "lineno", 0)
        found.append(
            Fault(
                module,
                number,
                place.function,
                place.names,
                line,
                kind,
                _short(ast.unparse(node)),
                _short(after),
            )
        )
    return found


def with_fault(source: str, number: int) -> ast.Module:
    """The syntax tree of a module with its fault of that number; IndexError when it has none."""
    tree = ast.parse(source)
    for at, (_, _, _, change) in enumerate(_candidates(tree)):
        if at == number:
            change()
            return ast.fix_missing_locations(tree)
    raise IndexError(f"there is no fault {number}")


def _short(text: str) -> str:
    one_line = " ".join(text.split())
    return one_line if len(one_line) <= 110 else one_line[:107] + "…"


def _candidates(tree: ast.Module) -> Iterator[tuple[_Place, str, str, Change]]:
    for place in _places(tree, "", ()):
        for make in (_of_expression, _of_call, _of_statement):
            yield from make(place)


def _name(node: ast.AST) -> str:
    """The last name of what is called or used as decorator."""
    if isinstance(node, ast.Call):
        return _name(node.func)
    return node.attr if isinstance(node, ast.Attribute) else node.id if isinstance(node, ast.Name) else ""


def _places(node: ast.AST, function: str, names: tuple[str, ...]) -> Iterator[_Place]:
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "type_params", "ctx", "op", "ops"):
            continue
        if field == "decorator_list" and isinstance(node, ast.ClassDef):
            continue
        for index, child in enumerate(value) if isinstance(value, list) else ((None, value),):
            if not isinstance(child, ast.AST) or _no_matter(child):
                continue
            inside, set_here = _where(child, function, names)
            place = _Place(node, field, index, child, function, set_here)
            yield place
            yield from _places(child, inside, set_here)


def _where(child: ast.AST, function: str, names: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """The function that the inside of `child` belongs to, and the names that a statement outside of functions sets."""
    if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
        nested = function and not function.endswith(".")
        inside = function if nested else function + child.name
        return (inside if nested or not isinstance(child, ast.ClassDef) else inside + "."), (child.name,)
    if not function or function.endswith("."):
        targets = (
            child.targets
            if isinstance(child, ast.Assign)
            else [child.target]
            if isinstance(child, ast.AnnAssign)
            else []
        )
        if targets:
            return function, tuple(n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name))
    return function, names


def _no_matter(node: ast.AST) -> bool:
    if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom | ast.Assert):
        return True
    if isinstance(node, ast.Raise) or (isinstance(node, ast.Call) and _name(node) in WORDS):
        return True
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return True
    return isinstance(node, ast.If) and _name(node.test) == "TYPE_CHECKING"


def _set(node: ast.AST, field: str, value: object) -> Change:
    return lambda: setattr(node, field, value)


def _of_expression(place: _Place) -> Iterator[tuple[_Place, str, str, Change]]:
    node = place.node

    def instead(kind: str, other: ast.expr) -> tuple[_Place, str, str, Change]:
        return place, kind, ast.unparse(other), lambda: place.put(other)

    if isinstance(node, ast.Compare):
        for at, operator in enumerate(node.ops):
            for kind, table in (("comparison turned round", TURNED), ("edge of a comparison", EDGE)):
                if type(operator) in table:
                    ops = [*node.ops[:at], table[type(operator)](), *node.ops[at + 1 :]]
                    yield instead(kind, ast.Compare(node.left, ops, node.comparators))
        if len(node.ops) == 2:
            yield instead(
                "half of a range dropped", ast.Compare(node.left, node.ops[:1], node.comparators[:1])
            )
            yield instead(
                "half of a range dropped",
                ast.Compare(node.comparators[0], node.ops[1:], node.comparators[1:]),
            )
    elif isinstance(node, ast.BinOp) and not _text(node):
        if type(node.op) in OPPOSITE:
            yield instead("opposite operator", ast.BinOp(node.left, OPPOSITE[type(node.op)](), node.right))
        yield instead("term dropped", node.left)
        if isinstance(node.op, ast.Add | ast.Mult | ast.BitOr | ast.BitAnd):
            yield instead("term dropped", node.right)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        if not (isinstance(node.op, ast.USub) and isinstance(node.operand, ast.Constant)):
            yield instead("sign or not dropped", node.operand)
    elif isinstance(node, ast.BoolOp):
        yield instead(
            "and for or", ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        )
        for at in range(len(node.values)):
            rest = [*node.values[:at], *node.values[at + 1 :]]
            yield instead("condition dropped", rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest))
    elif isinstance(node, ast.Constant):
        yield from (
            instead("constant changed", ast.Constant(value)) for value in _other_constants(node.value)
        )
    elif isinstance(node, ast.IfExp):
        yield instead("one branch for both", node.body)
        yield instead("one branch for both", node.orelse)
    elif isinstance(node, ast.comprehension):
        for at, test in enumerate(node.ifs):
            rest = [*node.ifs[:at], *node.ifs[at + 1 :]]
            yield place, "filter dropped", f"without: if {ast.unparse(test)}", _set(node, "ifs", rest)


def _other_constants(value: object) -> list[object]:
    """What could stand there instead: one off for small whole numbers, double for all others; what only guards against rounding is left alone."""
    if isinstance(value, bool):
        return [not value]
    if isinstance(value, int):
        if abs(value) > 12:
            return [value * 2]
        return [value + 1, value - 1] if abs(value) > 1 else [1 - abs(value)]
    if isinstance(value, float):
        return [] if 0 < abs(value) < 1e-4 else [value * 2 if value else 1.0]
    return []


def _text(node: ast.BinOp) -> bool:
    sides = (node.left, node.right)
    if any(
        isinstance(s, ast.JoinedStr) or (isinstance(s, ast.Constant) and isinstance(s.value, str))
        for s in sides
    ):
        return True
    return any(isinstance(s, ast.BinOp) and _text(s) for s in sides)


def _of_call(place: _Place) -> Iterator[tuple[_Place, str, str, Change]]:
    node = place.node
    if not isinstance(node, ast.Call):
        return
    name = _name(node)

    def instead(kind: str, other: ast.expr) -> tuple[_Place, str, str, Change]:
        return place, kind, ast.unparse(other), lambda: place.put(other)

    if name in TWINS and (node.args or node.keywords):
        func = node.func
        twin = (
            ast.Name(TWINS[name], ast.Load())
            if isinstance(func, ast.Name)
            else ast.Attribute(func.value, TWINS[name], ast.Load())
        )  # type: ignore[attr-defined]
        if not (isinstance(func, ast.Name) and name in ("ceil", "floor", "filter", "exclude")):
            yield instead("twin called instead", ast.Call(twin, node.args, node.keywords))
    if name in WITHOUT and len(node.args) == 1:
        yield instead("function left out", node.args[0])
    if name in QUERY and isinstance(node.func, ast.Attribute) and _name(node.func.value) != "register":
        yield instead("query step dropped", node.func.value)
        if name in ("filter", "exclude") and len(node.keywords) > 1:
            for at in range(len(node.keywords)):
                rest = [*node.keywords[:at], *node.keywords[at + 1 :]]
                yield instead("query condition dropped", ast.Call(node.func, node.args, rest))
    elif node.keywords and name[:1].islower():
        for at, keyword in enumerate(node.keywords):
            if keyword.arg is not None:
                rest = [*node.keywords[:at], *node.keywords[at + 1 :]]
                yield instead("argument left out", ast.Call(node.func, node.args, rest))
    if (
        len(node.args) == 2
        and all(isinstance(a, ast.Name | ast.Attribute) for a in node.args)
        and name not in TWINS
    ):
        yield instead("arguments swapped", ast.Call(node.func, node.args[::-1], node.keywords))


def _of_statement(place: _Place) -> Iterator[tuple[_Place, str, str, Change]]:
    node = place.node

    def nothing(kind: str) -> tuple[_Place, str, str, Change]:
        return place, kind, "(nothing)", lambda: place.put(ast.Pass())

    if isinstance(node, ast.If):
        guard = len(node.body) == 1 and isinstance(
            node.body[0], ast.Raise | ast.Return | ast.Continue | ast.Break
        )
        if guard and not node.orelse:
            yield place, "guard dropped", "(nothing)", _set(node, "test", ast.Constant(False))
        else:
            yield place, "branch never taken", "if False", _set(node, "test", ast.Constant(False))
            yield place, "branch always taken", "if True", _set(node, "test", ast.Constant(True))
    elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        for at, decorator in enumerate(node.decorator_list):
            if _name(decorator) not in KEPT:
                rest = [*node.decorator_list[:at], *node.decorator_list[at + 1 :]]
                yield (
                    place,
                    "decorator dropped",
                    f"without: @{ast.unparse(decorator)}",
                    _set(node, "decorator_list", rest),
                )
    elif isinstance(node, ast.With):
        if any(_name(item.context_expr) == "atomic" for item in node.items):
            yield (
                place,
                "transaction dropped",
                "(its body alone)",
                lambda: place.put(ast.If(ast.Constant(True), node.body, [])),
            )
    elif isinstance(node, ast.AugAssign):
        yield nothing("statement dropped")
        if type(node.op) in OPPOSITE:
            yield place, "opposite operator", ast.unparse(node), _set(node, "op", OPPOSITE[type(node.op)]())
    elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call) and _name(node.value) not in WORDS:
        yield nothing("statement dropped")
    elif isinstance(node, ast.List) and isinstance(place.parent, ast.Assign) and not place.function:
        words = [e for e in node.elts if isinstance(e, ast.Constant) and isinstance(e.value, str)]
        for word in words if len(words) == len(node.elts) else ():
            rest = [e for e in node.elts if e is not word]
            yield place, "entry left out", f"without: {ast.unparse(word)}", _set(node, "elts", rest)
