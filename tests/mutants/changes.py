"""What is tried: small changes of a file, each of one comparison, sign, number or word."""

import ast
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_COMPARED: dict[type[ast.cmpop], str] = {
    ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.Is: "is not",
    ast.IsNot: "is", ast.In: "not in", ast.NotIn: "in",
}  # fmt: skip
_COUNTED: dict[type[ast.operator], str] = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.FloorDiv: "/", ast.Mod: "*", ast.Pow: "*",
}  # fmt: skip
_NAMES = {"min": "max", "max": "min", "all": "any", "any": "all", "floor": "ceil", "ceil": "floor"}
# Said to the library or to the reader, not to the result.
_SAID = {"slots", "frozen", "kw_only", "strict", "full_output", "rtol", "atol", "epsrel", "mxstep", "limit", "maxsize"}


@dataclass(frozen=True)
class Mutant:
    """One change in one file."""

    path: Path
    line: int
    begin: int
    end: int
    new: str
    old: str

    def __str__(self) -> str:
        return f"{self.path.relative_to(ROOT)}:{self.line}: {self.was} => {self.becomes}"

    def _around(self, middle: bytes) -> str:
        raw = self.path.read_bytes()
        begin, end = raw.rfind(b"\n", 0, self.begin) + 1, raw.find(b"\n", self.end)
        return b" ".join((raw[begin : self.begin] + middle + raw[self.end : end]).split()).decode()

    @property
    def was(self) -> str:
        """The line as it stands."""
        return self._around(self.old.encode())

    @property
    def becomes(self) -> str:
        return self._around(self.new.encode())


def mutants_of(path: Path) -> list[Mutant]:
    """All changes that are tried in a file: of comparisons, signs, numbers, and/or, not, min/max."""
    text = path.read_text("utf-8")
    raw, starts = text.encode(), [0]
    for line in text.encode().splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found: list[Mutant] = []

    def place(node: ast.AST) -> tuple[int, int]:
        begin = starts[node.lineno - 1] + node.col_offset  # type: ignore[attr-defined]
        return begin, starts[node.end_lineno - 1] + node.end_col_offset  # type: ignore[attr-defined]

    def change(node: ast.AST, begin: int, end: int, new: str) -> None:
        found.append(Mutant(path, node.lineno, begin, end, new, raw[begin:end].decode()))  # type: ignore[attr-defined]

    def between(left: ast.AST, right: ast.AST) -> tuple[int, int]:
        return place(left)[1], place(right)[0]

    def visit(node: ast.AST) -> None:
        if isinstance(node, ast.Raise | ast.JoinedStr | ast.Import | ast.ImportFrom):
            return
        if isinstance(node, ast.Compare):
            for left, operator, right in zip([node.left, *node.comparators], node.ops, node.comparators, strict=False):
                begin, end = between(left, right)
                change(node, begin, end, _around(raw[begin:end].decode(), f" {_COMPARED[type(operator)]} "))
        elif isinstance(node, ast.BinOp) and type(node.op) in _COUNTED and not _is_text(node):
            begin, end = between(node.left, node.right)
            change(node, begin, end, _around(raw[begin:end].decode(), f" {_COUNTED[type(node.op)]} "))
        elif isinstance(node, ast.BoolOp):
            begin, end = between(node.values[0], node.values[1])
            other = " or " if isinstance(node.op, ast.And) else " and "
            change(node, begin, end, _around(raw[begin:end].decode(), other))
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            begin, end = place(node)
            change(node, begin, end, f"({raw[begin:end].decode().removeprefix('not').strip()})")
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            change(node, *place(node), repr(node.value + 1))
        elif isinstance(node, ast.Constant) and type(node.value) is bool:
            change(node, *place(node), repr(not node.value))
        elif isinstance(node, ast.Name) and node.id in _NAMES and isinstance(node.ctx, ast.Load):
            change(node, *place(node), _NAMES[node.id])
        for name, child in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list", "slice") and not isinstance(node, ast.Subscript):
                continue
            for one in child if isinstance(child, list) else [child]:
                if isinstance(one, ast.keyword) and one.arg in _SAID:
                    continue
                if isinstance(one, ast.AST):
                    visit(one)

    visit(ast.parse(text))
    return found


def _around(there: str, operator: str) -> str:
    """The operator in the place of the one between two operands, with the brackets that stand there."""
    before = there[: len(there) - len(there.lstrip(" )\n"))].rstrip(" \n")
    after = there[len(there.rstrip(" (\n")) :].lstrip(" \n")
    return f"{before}{operator}{after}"


def _is_text(node: ast.BinOp) -> bool:
    return any(
        isinstance(one, ast.JoinedStr) or (isinstance(one, ast.Constant) and isinstance(one.value, str))
        for one in ast.walk(node)
    )


def module_name(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


def span(mutant: Mutant) -> frozenset[int] | None:
    """The lines that are run where a mutant makes a difference: of its innermost statement, without what stands
    indented under it; nothing for what is run as the module is imported."""
    lines: frozenset[int] | None = None
    nodes: list[ast.AST] = [ast.parse(mutant.path.read_text("utf-8"))]
    functions = 0
    while nodes:
        for node in ast.iter_child_nodes(nodes.pop()):
            if not isinstance(node, ast.stmt):
                if isinstance(node, ast.excepthandler | ast.match_case):
                    nodes.append(node)
                continue
            if not node.lineno <= mutant.line <= (node.end_lineno or node.lineno):
                continue
            body = getattr(node, "body", None)
            last = node.end_lineno if not body or isinstance(node, ast.Match) else max(body[0].lineno - 1, node.lineno)
            inside = functions > 0
            functions += isinstance(node, ast.FunctionDef)
            if mutant.line <= (last or node.lineno):
                return frozenset(range(node.lineno, (last or node.lineno) + 1)) if inside else None
            nodes = [node]
            break
    return lines
