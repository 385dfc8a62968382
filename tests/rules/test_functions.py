"""A function is short enough to be read at a glance."""

import ast
from functools import cache

import pytest
from source import still_allowed, trees

LINES = 50
"""The most lines of a function, counted from after its docstring."""


@cache
def functions():
    """Return the lines of each function, by `path name` (methods with their class)."""
    return {f"{path} {name}": lines(node) for path, tree in trees().items() for name, node in functions_in(tree)}


def functions_in(owner):
    """Yield (name, node) of all functions, however deep; expressions, which hold none, are not gone through."""
    for node in ast.iter_child_nodes(owner):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield (f"{owner.name}.{node.name}" if isinstance(owner, ast.ClassDef) else node.name), node
        if isinstance(node, ast.stmt | ast.ExceptHandler | ast.match_case):
            yield from functions_in(node)


def lines(node):
    rest = node.body[1:] if ast.get_docstring(node) is not None else node.body
    return node.end_lineno - rest[0].lineno + 1 if rest else 0


def test_no_function_is_longer():
    allowed = still_allowed()["long_functions"]
    longer = {name: count for name, count in functions().items() if count > LINES and name not in allowed}
    assert longer == {}, f"{LINES} lines at most: split it along a seam that has a name"


def test_what_is_allowed_is_still_longer():
    found = functions()
    shorter = [name for name in still_allowed()["long_functions"] if found.get(name, 0) <= LINES]
    assert shorter == [], "take these out of still_allowed.toml"


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("def f():\n    a = 1\n    return a\n", 2),
        ('def f():\n    """Say\n    much.\n    """\n    return 1\n', 1),
        ('def f():\n    """Say."""\n', 0),
        ("def f(\n    a,\n    b,\n):\n    return a\n", 1),
    ],
)
def test_lines_are_counted_after_the_docstring(text, count):
    assert lines(ast.parse(text).body[0]) == count
