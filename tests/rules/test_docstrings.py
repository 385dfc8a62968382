"""A public function of three parameters or more says in its docstring what each is, what comes back and what it raises.

Left out are private functions and classes, methods that override another's (that one's docstring holds), and commands: their
docstring is the help that people read.
"""

import ast
import re
from importlib import import_module

import pytest
from source import name_of, trees

PARAMETERS = 3
"""From so many on, `self` and `cls` not counted, names and types alone no longer explain a call."""

SECTION = re.compile(r"^(\w+):$", re.MULTILINE)
ENTRY = re.compile(r"^ {4}\*{0,2}([\w.]+): \S", re.MULTILINE)
SAYS_RESULT = re.compile(r"\b(return|yield|whether)", re.IGNORECASE)
FUNCTIONS = ast.FunctionDef | ast.AsyncFunctionDef


def public_functions(path, tree):
    """Return pairs (name, node) of a module's public functions and methods that a docstring is asked of."""
    found = [(node.name, node) for node in tree.body if isinstance(node, FUNCTIONS)]
    for owner in (node for node in tree.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_")):
        inherited = _inherited(path, owner)
        methods = [node for node in owner.body if isinstance(node, FUNCTIONS) and node.name not in inherited]
        found += [(f"{owner.name}.{node.name}", node) for node in methods]
    return [(name, node) for name, node in found if not node.name.startswith("_") and not _is_command(node)]


def _inherited(path, owner):
    if not owner.bases:
        return set()
    kind = getattr(import_module(name_of(path)), owner.name)
    return {name for base in kind.__mro__[1:] for name in vars(base)}


def _is_command(node):
    return any(re.search(r"\.(command|group|callback)\b", ast.unparse(mark)) for mark in node.decorator_list)


def parameters(node):
    """Return the names of a function's parameters, without `self` and `cls`."""
    given = node.args
    named = [*given.posonlyargs, *given.args, given.vararg, *given.kwonlyargs, given.kwarg]
    return [one.arg for one in named if one is not None and one.arg not in {"self", "cls"}]


def raised(node):
    """Return the names of the errors that a function raises itself and does not catch."""
    found = set()
    for inner in ast.iter_child_nodes(node):
        if isinstance(inner, FUNCTIONS | ast.ClassDef | ast.Lambda):
            continue
        if isinstance(inner, ast.Raise) and inner.exc is not None:
            called = inner.exc.func if isinstance(inner.exc, ast.Call) else inner.exc
            found.add(ast.unparse(called).split(".")[-1])
        elif isinstance(inner, ast.Try):
            caught = {name.id for one in inner.handlers for name in ast.walk(one.type) if isinstance(name, ast.Name)}
            body = ast.Module(body=inner.body, type_ignores=[])
            rest = ast.Module(body=[*inner.handlers, *inner.orelse, *inner.finalbody], type_ignores=[])
            found |= raised(body) - caught | raised(rest)
        else:
            found |= raised(inner)
    return {name for name in found if name[0].isupper() and name != "NotImplementedError"}


def sections(docstring):
    """Return the text of each section of a docstring, by its heading; that before the first by ""."""
    parts = SECTION.split(docstring)
    return {"": parts[0], **dict(zip(parts[1::2], parts[2::2], strict=True))}


def flaws(node):
    """Return what a function's docstring lacks, in words; nothing for one of few parameters."""
    asked = parameters(node)
    if len(asked) < PARAMETERS:
        return []
    said = sections(ast.get_docstring(node) or "")
    args, errors = (ENTRY.findall(said.get(heading, "")) for heading in ("Args", "Raises"))
    lacks = [f"Args: lacks {name}" for name in asked if name not in args]
    lacks += [f"Args: {name} is no parameter" for name in args if name not in asked]
    lacks += [f"Raises: lacks {name}" for name in sorted(raised(node)) if name not in errors]
    returns = "None" if node.returns is None else ast.unparse(node.returns)
    says = {"Returns", "Yields"} & said.keys() or SAYS_RESULT.search(said[""].split("\n\n")[0])
    return lacks if returns in {"None", "Never", "NoReturn"} or says else [*lacks, "Returns: is missing"]


def undocumented():
    """Return the functions whose docstrings lack something, with what they lack."""
    asked = {f"{path} {name}": node for path, tree in trees().items() for name, node in public_functions(path, tree)}
    return {name: lacks for name, node in asked.items() if (lacks := flaws(node))}


def test_docstrings_are_whole():
    assert undocumented() == {}


WHOLE = '''
def f(a: int, *b: int, c: int) -> int:
    """Return a sum.

    Args:
        a: Metres.
        b: Metres, one a day,
            none on Sundays.
        c: Metres.

    Raises:
        ValueError: One is negative.
    """
    if a < 0:
        raise ValueError("negative")
    return a
'''


@pytest.mark.parametrize(
    ("old", "new", "lacks"),
    [
        ("", "", []),
        ("        c: Metres.\n", "", ["Args: lacks c"]),
        ("        c: Metres.\n", "        c: Metres.\n        d: Feet.\n", ["Args: d is no parameter"]),
        ("        a: Metres.\n", "        a:\n", ["Args: lacks a"]),
        ("    Args:\n", "    Given:\n", ["Args: lacks a", "Args: lacks b", "Args: lacks c"]),
        ("        ValueError: One", "        One", ["Raises: lacks ValueError"]),
        ("ValueError(", "errors.RefusedError(", ["Raises: lacks RefusedError"]),
        ("Return a sum", "Add", ["Returns: is missing"]),
        ("Return a sum.", "Add.\n\n    Returns:\n        The sum.", []),
    ],
)
def test_a_lack_is_seen(old, new, lacks):
    assert flaws(ast.parse(WHOLE.replace(old, new, 1)).body[0]) == lacks


@pytest.mark.parametrize(
    ("text", "count"), [("def f(a, b, c): ...", 3), ("def f(self, a, *, b): ...", 0), ("def f(a, *b, **c): ...", 3)]
)
def test_parameters_are_counted(text, count):
    assert len(flaws(ast.parse(text).body[0])) == count


def test_an_error_that_is_caught_is_not_asked_for():
    text = "def f():\n try:\n  raise KeyError\n except (KeyError, OSError):\n  raise\n else:\n  raise IndexError\n"
    assert raised(ast.parse(text).body[0]) == {"IndexError"}


MODULE = """
@app.command("x")
def command(a, b, c): ...
def _private(a, b, c): ...
def public(a, b, c): ...
class _Private:
    def method(self, a, b, c): ...
class Clock:
    def __init__(self, a, b, c): ...
    def method(self, a, b, c): ...
class UnreadDesk(NoticeDesk):
    def line(self, a, b, c): ...
    def method(self, a, b, c): ...
"""


def test_public_functions_are_found():
    found = [name for name, _ in public_functions("notices/unread.py", ast.parse(MODULE))]
    assert found == ["public", "Clock.method", "UnreadDesk.method"]


def test_most_of_the_house_is_asked():
    asked = [node for path, tree in trees().items() for _, node in public_functions(path, tree)]
    assert sum(len(parameters(node)) >= PARAMETERS for node in asked) > 200
