"""What ruff's security rules leave open: each exception in the source says why, and nothing rests on an assert."""

import ast
import re

import pytest
from source import ROOT, trees

EXCEPTION = re.compile(r"# noqa: (?:[A-Z]+\d+, )*S\d+\b(?:, [A-Z]+\d+)*(.*)$")


def unreasoned(text):
    """Return the numbers of the lines that leave a security rule out and do not say why."""
    lines = enumerate(text.splitlines(), 1)
    return [number for number, line in lines if (found := EXCEPTION.search(line)) and len(found[1].split()) < 2]


def only_tells_a_type(test):
    """Return whether a condition only says that a value is there, or of a type, which the type checker must be told."""
    match test:
        case ast.BoolOp(op=ast.And(), values=parts):
            return all(map(only_tells_a_type, parts))
        case ast.Compare(ops=[ast.IsNot()], comparators=[ast.Constant(value=None)]):
            return True
        case ast.Call(func=ast.Name(id="isinstance")):
            return True
        case ast.UnaryOp(op=ast.Not(), operand=ast.Call(func=ast.Name(id="isinstance"))):
            return True
        case ast.Call(func=ast.Name(id="all"), args=[ast.GeneratorExp(elt=each)]):
            return only_tells_a_type(each)
    return False


def test_each_exception_from_a_security_rule_says_why():
    sources = {path: (ROOT / "monitor" / path).read_text(encoding="utf-8") for path in trees()}
    assert {path: lines for path, text in sources.items() if (lines := unreasoned(text))} == {}


def test_nothing_that_must_hold_rests_on_an_assert():
    # Under `python -O` an assert is not there: what may come in is checked by `if`, and told by a sentence.
    found = {
        path: [one.lineno for one in ast.walk(tree) if isinstance(one, ast.Assert) and not only_tells_a_type(one.test)]
        for path, tree in trees().items()
    }
    assert {path: lines for path, lines in found.items() if lines} == {}


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("x = 1  # noqa: S608", False),
        ("x = 1  # noqa: S608 -", False),
        ("x = 1  # noqa: S608 - a constant", True),
        ("x = 1  # noqa: E501, S608 (a constant)", True),
        ("x = 1  # noqa: S608, E501", False),
        ("x = 1  # noqa: E501", True),
    ],
)
def test_a_reason_is_more_than_the_rule(line, told):
    assert unreasoned(line) == ([] if told else [1])


@pytest.mark.parametrize(
    ("condition", "only"),
    [
        ("x is not None", True),
        ("isinstance(x, int)", True),
        ("x is not None and y.z is not None", True),
        ("all(one is not None for one in x)", True),
        ("not isinstance(x, int | str)", True),
        ("not x", False),
        ("x", False),
        ("x is None", False),
        ("x is not None or y", False),
        ("x == 1", False),
    ],
)
def test_an_assert_may_tell_a_type_and_no_more(condition, only):
    assert only_tells_a_type(ast.parse(condition, mode="eval").body) is only
