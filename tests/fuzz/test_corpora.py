"""Each parser reads its corpus, and every input that once failed, without a fault; and a fault would be seen."""

import pytest

from tests.fuzz.contract import CORPORA, FAILED, NAMES, Parser, parser_of, tried, where

MOST_FILES, MOST_ALL = 30, 150_000


def inputs(folder):
    return sorted(folder.iterdir()) if folder.is_dir() else []


@pytest.mark.parametrize("name", NAMES)
def test_a_parser_reads_its_corpus_and_what_once_failed(name):
    parser = parser_of(name)
    kept = [*inputs(CORPORA / name), *inputs(FAILED / name)]
    assert kept
    faults = {path.name: fault for path in kept if (fault := tried(parser, path.read_bytes())) is not None}
    assert faults == {}


def test_the_corpora_are_small():
    sizes = {name: [path.stat().st_size for path in inputs(CORPORA / name)] for name in NAMES}
    assert {name: len(some) for name, some in sizes.items() if not 3 <= len(some) <= MOST_FILES} == {}
    assert sum(map(sum, sizes.values())) <= MOST_ALL


def _law(_data):
    raise AssertionError("a law that never holds")


def _fault(_data):
    return int("x")


def test_what_a_parser_may_not_raise_is_a_finding():
    assert tried(Parser(_fault, allowed=(ValueError,)), b"") is None
    assert isinstance(tried(Parser(_fault), b""), ValueError)
    found = tried(Parser(_law, allowed=(ValueError,)), b"")
    assert where(found).startswith("AssertionError at tests/fuzz/test_corpora.py:")
