"""The source of `monitor/` as the rules read it: modules by their names, their syntax trees, their imports of each other."""

import ast
import tomllib
from functools import cache
from importlib import import_module
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[2]


@cache
def trees():
    """Return the syntax tree of each module, by its path below `monitor/`."""
    files = sorted((ROOT / "monitor").rglob("*.py"))
    return {
        file.relative_to(ROOT / "monitor").as_posix(): ast.parse(file.read_text(encoding="utf-8")) for file in files
    }


@cache
def still_allowed():
    """Return what still stands against the rules; these lists only shrink."""
    return tomllib.loads((Path(__file__).parent / "still_allowed.toml").read_text(encoding="utf-8"))


def name_of(path):
    """Return the full name of the module at a path below `monitor/`."""
    parts = ("monitor", *Path(path).with_suffix("").parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def names():
    """Return the path of each module, by its full name."""
    return {name_of(path): path for path in trees()}


@cache
def imports(path):
    """Return pairs (full name of a module of `monitor` that is imported, whether that is when the module is loaded)."""
    return tuple(_imports(trees()[path], loaded=True))


def _imports(node, *, loaded):
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.If) and not _is_loaded(node):
        loaded = False
    for one in ast.iter_child_nodes(node):
        if isinstance(one, ast.ImportFrom) and (one.module or "").split(".")[0] == "monitor":
            for alias in one.names:
                yield _source_of(one.module, alias.name), loaded
        elif isinstance(one, ast.Import):
            yield from ((alias.name, loaded) for alias in one.names if alias.name in names())
        elif isinstance(one, ast.stmt | ast.ExceptHandler | ast.match_case):
            yield from _imports(one, loaded=loaded)


def _is_loaded(node):
    return isinstance(node, ast.If) and ast.unparse(node.test) != "TYPE_CHECKING"


def _source_of(module, name):
    """Return which module a name comes from: one of a package's modules is named like a module, or shown on its face."""
    inner = f"{module}.{name}"
    return inner if inner in names() and isinstance(getattr(import_module(module), name, None), ModuleType) else module


@cache
def texts(path):
    """Return the texts of a module that are no docstrings."""
    nodes = list(ast.walk(trees()[path]))
    docstrings = {id(node.value) for node in nodes if isinstance(node, ast.Expr)}
    constants = [node for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)]
    return tuple(node.value for node in constants if id(node) not in docstrings)
