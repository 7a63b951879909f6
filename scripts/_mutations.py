"""Small changes that can be made to a source, one at a time; for `mutate.py` beside this file."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass

COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
UNIT_ENDINGS = ("_hz", "_s", "_ms", "_db", "_v", "_mv", "_volts", "_ohm", "_farad", "_cents")
"""How names end that say their unit."""
THOUSANDS = (1e-12, 1e-9, 1e-6, 1e-3, 1e3, 1e6, 1e9, 1e12)
WRITES = ("write", "fsync", "flush", "replace", "guard", "unlink", "copy")
"""What the names of calls hold whose being left out must be noticed."""
KEYS = ("key", "digest", "fingerprint")
"""What the names of functions and variables hold that make a cache key."""
LONGEST = 70


@dataclass(frozen=True)
class Mutation:
    """One change: where, of what kind, from what to what; `span` is in bytes of the whole source."""

    file: str
    line: int
    kind: str
    before: str
    after: str
    span: tuple[int, int]
    text: str

    def told(self) -> str:
        """Return what is changed, and where."""
        return f"{self.file}:{self.line}  {self.kind}: {self.before} → {self.after}"


Change = tuple[str, ast.expr | ast.stmt, str]
"""Kind, node, and the text that takes its place."""


def mutations_of(source: str, *, file: str) -> list[Mutation]:
    """Return every change to a source, in its order."""
    tree = ast.parse(source)
    starts = [0]
    for line in source.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    mutations = []
    for kind, node, text in _changes(tree, key=False):
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        span = starts[node.lineno - 1] + node.col_offset, starts[node.end_lineno - 1] + node.end_col_offset
        before, after = _short(ast.unparse(node)), _short(text)
        mutations.append(Mutation(file, node.lineno, kind, before, after, span, text))
    return mutations


def apply(source: str, mutation: Mutation) -> str:
    """Return the source with a change made."""
    data, (start, stop) = source.encode(), mutation.span
    return (data[:start] + mutation.text.encode() + data[stop:]).decode()


def _short(text: str) -> str:
    """Return a piece of source on one short line."""
    line = " ".join(text.split())
    return line if len(line) <= LONGEST else line[: LONGEST - 1] + "…"


def _changes(node: ast.AST, *, key: bool) -> Iterator[Change]:
    """Give the changes to a node and to all within it; `key` says whether a cache key is made there."""
    if _is_no_logic(node):
        return
    if isinstance(node, (ast.FunctionDef, ast.Assign)):
        key = key or _makes_key(node)
    if isinstance(node, (ast.expr, ast.stmt)):
        for change in (_operators, _numbers, _branches, _calls_left_out):
            yield from change(node)
        if key:
            yield from _facts(node)
    for name, value in ast.iter_fields(node):
        if name not in ("annotation", "returns", "decorator_list", "type_params"):
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from _changes(child, key=key)


def _is_no_logic(node: ast.AST) -> bool:
    """Return whether a node is none to change: texts, imports for types alone, aliases of types."""
    if isinstance(node, (ast.JoinedStr, ast.Import, ast.ImportFrom)):
        return True
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


def _makes_key(node: ast.FunctionDef | ast.Assign) -> bool:
    """Return whether a function or a variable is named as a cache key."""
    names = [node.name] if isinstance(node, ast.FunctionDef) else [ast.unparse(target) for target in node.targets]
    return any(word in name.lower() for name in names for word in KEYS)


def _with(node: ast.expr, change: Callable[[ast.expr], None]) -> str:
    """Return an expression's text after a change to a copy of it."""
    copy = deepcopy(node)
    change(copy)
    return f"({ast.unparse(copy)})"


def _operators(node: ast.AST) -> Iterator[Change]:
    """Give other signs, comparisons, and `and` for `or`."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Add, ast.Sub)) and not _is_text(node):
        other = ast.Sub() if isinstance(node.op, ast.Add) else ast.Add()
        yield "sign", node, _with(node, lambda copy: setattr(copy, "op", other))
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield "sign", node, f"({ast.unparse(node.operand)})"
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "boolean", node, f"bool({ast.unparse(node.operand)})"
    elif isinstance(node, ast.BoolOp):
        word = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "boolean", node, _with(node, lambda copy: setattr(copy, "op", word))
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        kind = COMPARED[type(node.ops[0])]
        yield "comparison", node, _with(node, lambda copy: setattr(copy, "ops", [kind()]))


def _is_text(node: ast.BinOp) -> bool:
    """Return whether something is joined, not added."""
    joined = (ast.JoinedStr, ast.List, ast.Tuple, ast.ListComp)
    sides = (node.left, node.right)
    return any(isinstance(s, joined) or (isinstance(s, ast.Constant) and isinstance(s.value, str)) for s in sides)


def _numbers(node: ast.AST) -> Iterator[Change]:
    """Give indices and limits one off, and units a thousand off."""
    if isinstance(node, ast.Subscript):
        indices = [node.slice.lower, node.slice.upper] if isinstance(node.slice, ast.Slice) else [node.slice]
        yield from _one_off("index", indices)
    elif isinstance(node, ast.Compare):
        yield from _one_off("limit", [node.left, *node.comparators])
    elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]).isupper():
        values = list(node.value.elts) if isinstance(node.value, ast.Tuple) else [node.value]
        yield from _one_off("limit", values)
        if ast.unparse(node.targets[0]).lower().endswith(UNIT_ENDINGS):
            yield from _thousand_off(values)
    elif isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Mult, ast.Div)):
        yield from _thousand_off([s for s in (node.left, node.right) if _number(s) in THOUSANDS])


def _number(node: ast.expr | None) -> float | None:
    """Return a number that stands in the source as such."""
    if isinstance(node, ast.Constant) and isinstance(node.value, (int, float)) and not isinstance(node.value, bool):
        return float(node.value)
    return None


def _one_off(kind: str, nodes: list[ast.expr] | list[ast.expr | None]) -> Iterator[Change]:
    """Give numbers one more and one less; those with a decimal point a tenth of themselves."""
    for node in nodes:
        value = _number(node)
        if node is not None and value is not None:
            assert isinstance(node, ast.Constant)
            whole = isinstance(node.value, int) or not value
            more, less = (value + 1, value - 1) if whole else (1.1 * value, 0.9 * value)
            yield from ((kind, node, f"({int(changed) if whole else changed!r})") for changed in (more, less))


def _thousand_off(nodes: list[ast.expr]) -> Iterator[Change]:
    """Give numbers a thousand times as large."""
    for node in nodes:
        if _number(node):
            yield "unit", node, f"({ast.unparse(node)} * 1000)"


def _branches(node: ast.AST) -> Iterator[Change]:
    """Give conditions turned round."""
    if isinstance(node, (ast.If, ast.IfExp)):
        yield "branch", node.test, f"(not ({ast.unparse(node.test)}))"


def _calls_left_out(node: ast.AST) -> Iterator[Change]:
    """Give calls left out that write, or see to it that nothing is written over."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        name = ast.unparse(node.value.func).rpartition(".")[2]
        if any(word in name for word in WRITES):
            yield "write", node, "pass"


def _facts(node: ast.AST) -> Iterator[Change]:
    """Give a cache key without one of its facts."""
    if isinstance(node, (ast.Tuple, ast.List)) and isinstance(node.ctx, ast.Load) and len(node.elts) > 1:
        for left_out in range(len(node.elts)):
            rest = [ast.unparse(fact) for index, fact in enumerate(node.elts) if index != left_out]
            yield "key", node, f"[{', '.join(rest)}]" if isinstance(node, ast.List) else f"({', '.join(rest)},)"
    elif isinstance(node, ast.Dict) and len(node.keys) > 1:
        for left_out in range(len(node.keys)):
            copy = deepcopy(node)
            del copy.keys[left_out], copy.values[left_out]
            yield "key", node, ast.unparse(copy)
