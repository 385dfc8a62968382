"""A docstring names its subject first: a noun or a verb, no question word; nor does it use words of a dialect."""

import ast
import re

import pytest
from source import ROOT, trees

OPENING = re.compile(
    r"(What|Whatever|Which|Who|Whom|Whose|Where|When|How|From)\b|(Return|Yield)s? what(ever)?\b(?! to\b)", re.IGNORECASE
)
"""A clause that begins so has no subject that a reader could look up; *what to do* has one."""

DIALECT = re.compile(r"\bas ever\b|^Tell whether\b")
"""*As ever*: as usual, as before. *Tell whether*: return whether."""


def openings(tree):
    """Return the docstrings of a module, its classes and its functions that begin with a question word."""
    asked = ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef
    said = [ast.get_docstring(node) or "" for node in ast.walk(tree) if isinstance(node, asked)]
    return [text.splitlines()[0] for text in said if OPENING.match(text)]


def dialect(text):
    """Return the lines of a source file that hold words of the dialect."""
    return [line for line in text.splitlines() if DIALECT.search(line.strip(' "'))]


def test_docstrings_begin_with_their_subject():
    assert {path: said for path, tree in trees().items() if (said := openings(tree))} == {}


def test_nobody_writes_dialect():
    files = [
        *(ROOT / "monitor").rglob("*.py"),
        *(ROOT / "docs").rglob("*.md"),
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
    ]
    assert len(files) > 300
    assert {file.name: said for file in files if (said := dialect(file.read_text(encoding="utf-8")))} == {}


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ('"""What came in."""', 1),
        ('class A:\n """How far it is."""', 1),
        ("def f():\n '''Where it lies.'''", 1),
        ('"""Material that came in."""', 0),
        ('"""Return what came in."""', 1),
        ('"""Return what to do."""', 0),
    ],
)
def test_a_question_word_is_seen(text, count):
    assert len(openings(ast.parse(text))) == count


@pytest.mark.parametrize(
    ("text", "count"),
    [("It rings as ever.", 1), ("Tell whether it is on.", 1), ("for ever and ever", 0)],
)
def test_dialect_is_seen(text, count):
    assert len(dialect(text)) == count
