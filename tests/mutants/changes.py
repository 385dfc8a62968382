"""The small faults that are put into a module: each is one change of one place of its syntax tree.

A change is one that a tired person could make: a boundary moved, a step left out, a condition turned round, two arguments
swapped. What cannot change a decision is left as it is: texts, annotations, decorators, calls of the log.
"""

import ast
import copy
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType

MODULE = "<module>"
"""The function of what stands outside all functions: constants, fields and their defaults."""

_SHOWN = 100

_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE,),
    ast.LtE: (ast.Lt,),
    ast.Gt: (ast.GtE,),
    ast.GtE: (ast.Gt,),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
}
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.FloorDiv: ast.Mult,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_NAMES = {"min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum"}
_LOGS = {"log", "logger", "logging", "warnings"}


@dataclass(frozen=True)
class Mutant:
    """One change of one module.

    Args:
        path: The module's file.
        source: What stands in it, so that a change of the file meanwhile changes no mutant.
        number: Which of the module's changes it is, counted from 0 in the order of the source.
        line: The line of the place, counted from 1.
        function: The function around the place, as `code.co_qualname` gives it; `MODULE` outside all functions.
        was: The source before, shortened.
        became: The source after, shortened.
    """

    path: Path
    source: str
    number: int
    line: int
    function: str
    was: str
    became: str


@dataclass(frozen=True)
class _Place:
    """A node and where it hangs: `parent.field`, or `parent.field[index]`."""

    node: ast.AST
    parent: ast.AST
    field: str
    index: int | None
    function: str

    def put(self, new: ast.AST) -> None:
        if self.index is None:
            setattr(self.parent, self.field, new)
        else:
            getattr(self.parent, self.field)[self.index] = new


def mutants_of(path: Path) -> list[Mutant]:
    """Return all mutants of a module, in the order of its source."""
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    return [
        Mutant(path, source, number, getattr(place.node, "lineno", 0), place.function, _shown(place.node), _shown(new))
        for number, (place, new) in enumerate(_changes(tree))
    ]


def compiled(mutant: Mutant) -> CodeType:
    """Return the code of the mutant's module with its change made."""
    tree = ast.parse(mutant.source)
    for number, (place, new) in enumerate(_changes(tree)):
        if number == mutant.number:
            place.put(ast.copy_location(new, place.node))
            break
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return compile(ast.fix_missing_locations(tree), str(mutant.path), "exec", dont_inherit=True)


def _shown(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def _changes(tree: ast.Module) -> Iterator[tuple[_Place, ast.AST]]:
    for place in _places(tree, MODULE):
        for change in _KINDS.get(type(place.node), ()):
            for new in change(place.node):
                yield place, new


def _places(parent: ast.AST, function: str) -> Iterator[_Place]:
    for field, value in ast.iter_fields(parent):
        if field in {"annotation", "returns", "decorator_list", "type_comment", "bases", "keywords_of_class"}:
            continue
        nodes = value if isinstance(value, list) else [value]
        for index, node in enumerate(nodes):
            if not isinstance(node, ast.AST) or _skipped(node):
                continue
            yield _Place(node, parent, field, index if isinstance(value, list) else None, function)
            yield from _places(node, _inside(node, function, parent))


def _inside(node: ast.AST, function: str, parent: ast.AST) -> str:
    """Return the name of what stands in a node; a class is told by its functions' names, its own fields are the module's."""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        owner = getattr(parent, "mutants_class", "")
        return f"{function}.<locals>.{owner}{node.name}" if function != MODULE else f"{owner}{node.name}"
    if isinstance(node, ast.ClassDef):
        node.mutants_class = f"{getattr(parent, 'mutants_class', '')}{node.name}."  # type: ignore[attr-defined]
    return function


def _skipped(node: ast.AST) -> bool:
    match node:
        case ast.Expr(value=ast.Constant()):
            return True
        case ast.Expr(value=ast.Call(func=ast.Attribute(value=ast.Name(id=name)))) if name in _LOGS:
            return True
        case (
            ast.If(test=ast.Name(id="TYPE_CHECKING")) | ast.Import() | ast.ImportFrom() | ast.Assert() | ast.JoinedStr()
        ):
            return True
        case ast.Assign(targets=[ast.Name(id="__all__")]):
            return True
        case ast.keyword(arg="strict"):
            return True  # like an assertion: sides of one length, which only a fault elsewhere could make unequal
    return False


def _comparison(node: ast.Compare) -> Iterator[ast.AST]:
    for number, operator in enumerate(node.ops):
        for other in _COMPARISONS.get(type(operator), ()):
            new = copy.deepcopy(node)
            new.ops[number] = other()
            yield new


def _both_or_either(node: ast.BoolOp) -> Iterator[ast.AST]:
    other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    yield ast.BoolOp(other, node.values)
    for left_out in range(len(node.values)):
        rest = [value for number, value in enumerate(node.values) if number != left_out]
        yield rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)


def _not(node: ast.UnaryOp) -> Iterator[ast.AST]:
    sign = isinstance(node.op, ast.USub) and not isinstance(node.operand, ast.Constant)
    if sign or isinstance(node.op, ast.Not):
        yield node.operand


def _arithmetic(node: ast.BinOp) -> Iterator[ast.AST]:
    if type(node.op) in _ARITHMETIC and not _texts(node):
        yield ast.BinOp(node.left, _ARITHMETIC[type(node.op)](), node.right)


def _texts(node: ast.BinOp) -> bool:
    """Whether an addition joins texts or lists, or a `|` types: another operator could only raise."""
    texts = (ast.JoinedStr, ast.List, ast.Tuple)
    sides = (node.left, node.right)
    return any(isinstance(side, texts) or (isinstance(side, ast.Constant) and not _number(side)) for side in sides)


def _number(node: ast.Constant) -> bool:
    return isinstance(node.value, int | float) and not isinstance(node.value, bool)


def _constant(node: ast.Constant) -> Iterator[ast.AST]:
    if isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node.value, int):
        yield ast.Constant(node.value + 1)
        if node.value:
            yield ast.Constant(node.value - 1)
    elif isinstance(node.value, float):
        yield ast.Constant(node.value + (0.01 if node.value == 0 else node.value / 10))


def _call(node: ast.Call) -> Iterator[ast.AST]:
    if isinstance(node.func, ast.Name) and node.func.id in _NAMES:
        yield ast.Call(ast.Name(_NAMES[node.func.id], ast.Load()), node.args, node.keywords)
    elif isinstance(node.func, ast.Attribute) and node.func.attr in _NAMES:
        yield ast.Call(ast.Attribute(node.func.value, _NAMES[node.func.attr], ast.Load()), node.args, node.keywords)
    elif len(node.args) >= 2 and not any(isinstance(one, ast.Starred) for one in node.args[:2]):
        first, second, *rest = node.args
        if not _says_types(node) and ast.dump(first) != ast.dump(second):
            yield ast.Call(node.func, [second, first, *rest], node.keywords)


def _says_types(node: ast.Call) -> bool:
    """Whether a call asks for a type or an attribute: swapped, it could only raise."""
    return isinstance(node.func, ast.Name) and node.func.id in {
        "isinstance",
        "issubclass",
        "getattr",
        "setattr",
        "cast",
    }


def _chosen(node: ast.IfExp) -> Iterator[ast.AST]:
    yield ast.IfExp(node.test, node.orelse, node.body)


def _turned(node: ast.If) -> Iterator[ast.AST]:
    if not isinstance(node.test, ast.Compare | ast.BoolOp | ast.UnaryOp):
        yield ast.If(ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse)


def _left_out(node: ast.stmt) -> Iterator[ast.AST]:
    yield ast.Pass()


def _deleted(node: ast.Delete) -> Iterator[ast.AST]:
    """Something that lives on keeps what should go; a name that is given up is only a word to the linter."""
    if not all(isinstance(target, ast.Name) for target in node.targets):
        yield ast.Pass()


def _assigned(node: ast.Assign) -> Iterator[ast.AST]:
    """A field of something that lives on is not set; a local name left out could only raise."""
    if any(isinstance(target, ast.Attribute | ast.Subscript) for target in node.targets):
        yield ast.Pass()


def _spoken(node: ast.Expr) -> Iterator[ast.AST]:
    if isinstance(node.value, ast.Call | ast.Await):
        yield ast.Pass()


def _returned(node: ast.Return) -> Iterator[ast.AST]:
    match node.value:
        case None | ast.Constant() | ast.Compare() | ast.BoolOp():
            return  # changed where it stands
        case _:
            yield ast.Return(ast.Constant(None))


_KINDS: dict[type[ast.AST], tuple[Callable[..., Iterator[ast.AST]], ...]] = {
    ast.Compare: (_comparison,),
    ast.BoolOp: (_both_or_either,),
    ast.UnaryOp: (_not,),
    ast.BinOp: (_arithmetic,),
    ast.Constant: (_constant,),
    ast.Call: (_call,),
    ast.IfExp: (_chosen,),
    ast.If: (_turned,),
    ast.Continue: (_left_out,),
    ast.Break: (_left_out,),
    ast.Raise: (_left_out,),
    ast.AugAssign: (_left_out,),
    ast.Delete: (_deleted,),
    ast.Assign: (_assigned,),
    ast.Expr: (_spoken,),
    ast.Return: (_returned,),
}
