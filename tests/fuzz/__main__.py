"""Fuzzes a parser: `python -m tests.fuzz PARSER --seconds N --seed S`; without a name it lists them, `all` takes each in turn.

What it finds lies in `.pytest_cache/fuzz/PARSER/found`, the input beside its story; the exit code is then 1. Then `--keep`
chooses a few small inputs from those of all runs and puts them in the place of `tests/fuzz/corpora/PARSER`. It needs Atheris
(DEVELOPERS.md).
"""

import argparse
import hashlib
import os
import random
import re
import subprocess
import sys
import time
from importlib import import_module

from tests.fuzz.contract import CORPORA, FAILED, NAMES, ROOT, parser_of
from tests.fuzz.smallest import chosen

HOME = ROOT / ".pytest_cache" / "fuzz"
_STATS = {
    "executions": re.compile(r"stat::number_of_executed_units:\s+(\d+)|^#(\d+)\s", re.MULTILINE),
    "edges": re.compile(r"\bcov: (\d+)"),
}


def main(argv=None):
    """Do what is asked, and return the exit code."""
    asking = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asking.add_argument("parser", nargs="?", choices=[*NAMES, "all"], help="which; without it they are listed")
    asking.add_argument("--seconds", type=int, default=60)
    asking.add_argument("--seed", type=int, help="default: any")
    asking.add_argument("--keep", action="store_true", help="choose the corpus anew from all runs, and do nothing else")
    asked = asking.parse_args(argv)
    if asked.parser is None:
        print(*NAMES, sep="\n")
        return 0
    names = NAMES if asked.parser == "all" else [asked.parser]
    if asked.keep:
        for name in names:
            keep(name)
        return 0
    seed = asked.seed if asked.seed is not None else random.randrange(1, 1 << 30)
    found = [story for name in names for story in fuzz(name, asked.seconds, seed)]
    return 1 if found else 0


def fuzz(name, seconds, seed):
    """Fuzz one parser, print what was done, and return the stories of what was found, those of earlier runs among them."""
    work, found = HOME / name / "work", HOME / name / "found"
    for folder in (work, found):
        folder.mkdir(parents=True, exist_ok=True)
    for data in starts(name):
        (work / hashlib.sha256(data).hexdigest()).write_bytes(data)
    begun, executions, edges, ended = time.monotonic(), 0, 0, 0
    while (left := int(seconds - (time.monotonic() - begun))) > 0:
        words = [sys.executable, "-m", "tests.fuzz.engine", name, str(left), str(seed + ended), str(work), str(found)]
        done = subprocess.run(
            words,
            cwd=ROOT,
            stderr=subprocess.PIPE,
            text=True,
            errors="replace",
            env={**os.environ, "PYTHONHASHSEED": "0"},
        )
        said = done.stderr
        executions += max((int(one or other) for one, other in _STATS["executions"].findall(said)), default=0)
        edges = max([edges, *map(int, _STATS["edges"].findall(said))])
        print("".join(line + "\n" for line in said.splitlines() if line.startswith("FOUND")), end="", flush=True)
        if done.returncode:
            ended += 1
            print(f"{name}: the search ended with {done.returncode}\n{said[-1500:]}", flush=True)
            if not executions:
                raise SystemExit(2)
    stories = sorted(found.glob("*.txt"))
    stories = [one.read_text() for one in stories if one.name != "words.txt"] + [
        one.name for one in found.glob("ended-*")
    ]
    minutes = (time.monotonic() - begun) / 60
    print(
        f"{name}: seed {seed}, {minutes:.1f} min, {executions:,} executions, {edges:,} edges, "
        f"{len(list(work.iterdir()))} inputs, {len(stories)} found in {found.relative_to(ROOT)}",
        flush=True,
    )
    return stories


def starts(name):
    """Return what a search begins with: the parser's own seeds, its corpus, and what once failed."""
    module = import_module(f"tests.fuzz.parsers.{name}")
    more = module.larger_seeds() if hasattr(module, "larger_seeds") else ()
    kept = [
        path.read_bytes() for folder in (CORPORA / name, FAILED / name) if folder.is_dir() for path in folder.iterdir()
    ]
    return [*module.PARSER.seeds, *more, *kept]


def keep(name):
    """Choose the corpus of a parser anew."""
    parser, folder = parser_of(name), CORPORA / name
    print(f"{name}: ", end="", flush=True)
    few = chosen(parser, HOME / name / "work")
    folder.mkdir(parents=True, exist_ok=True)
    for path in folder.iterdir():
        path.unlink()
    for data in few:
        (folder / hashlib.sha256(data).hexdigest()[:12]).write_bytes(data)


if __name__ == "__main__":
    sys.exit(main())
