"""Samples mutants of a package and says how many of them a test notices: `python -m tests.mutants PACKAGE --sample 40`.

Goal: 85 of 100 in each package. A survivor is a question: write the test of behaviour that it asks for. Where nothing that a
user could notice hangs on it, say why in `unnoticeable.toml`; it is then printed as such and counts neither way. Run it with
`nice`; it takes one core.
"""

import argparse
import functools
import random
import sys
import time
import tomllib
from pathlib import Path

# Libraries that many tests need are loaded once, before any child is made; the program itself is not.
import freezegun  # noqa: F401
import hypothesis.strategies  # noqa: F401
import jinja2  # noqa: F401
import numpy as np  # noqa: F401
import sklearn.metrics  # noqa: F401

from tests.mutants.changes import MODULE, Mutant, compiled, mutants_of
from tests.mutants.coverage import ROOT, Test, covering, tests_of
from tests.mutants.running import in_child, survives

DECIDING = ("piles", "bins", "proof", "engine", "journal", "alarms", "certificate", "page", "material")
"""The packages whose mutants would change what is decided, kept or shown."""

_SLACK_S, _SLOWER = 20.0, 3.0
_NEAREST = 3


def main() -> int:
    """Show mutants to their tests and print each survivor, and a rate for each package."""
    asked = _asked()
    worst = 100.0
    for package in asked.packages or DECIDING:
        worst = min(worst, _look_at(package, asked))
    return 0 if worst >= asked.floor else 1


def _asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("packages", nargs="*", metavar="PACKAGE", help=f"as in monitor/; all of {', '.join(DECIDING)}")
    parser.add_argument("--sample", type=int, default=40, help="mutants of each package (default 40); 0 takes all")
    parser.add_argument("--seed", type=int, default=1, help="another seed, other mutants (default 1)")
    parser.add_argument("--only", default="", help="only mutants whose FILE:LINE FUNCTION holds this text")
    parser.add_argument(
        "--longest",
        type=float,
        help="leave out tests that took longer (s) when they were watched: the rate is then a lower bound",
    )
    parser.add_argument("--floor", type=float, default=0.0, help="exit 1 if a package's rate is below this, in percent")
    parser.add_argument(
        "--own", action="store_true", help="show a mutant to the tests of its package's own folder alone"
    )
    parser.add_argument("--all", action="store_true", help="print those that die too")
    return parser.parse_args()


def _look_at(package: str, asked: argparse.Namespace) -> float:
    files = sorted((ROOT / "monitor" / package).rglob("*.py"))
    if not files:
        raise SystemExit(f"There is no package monitor/{package}.")
    mutants = [one for file in files for one in mutants_of(file) if asked.only in f"{_where(one)} {one.function}"]
    if asked.sample and asked.sample < len(mutants):
        mutants = random.Random(asked.seed).sample(mutants, asked.sample)
    tests, unnoticeable = tests_of(package, own=asked.own), _unnoticeable()
    if asked.longest is not None:
        tests = {name: test for name, test in tests.items() if test.seconds <= asked.longest}
    begun, killed, left_out = time.monotonic(), 0, 0
    for one in sorted(mutants, key=lambda each: (each.path, each.number)):
        fate = _fate(one, package, tests)
        if fate == "survives" and (one.path, one.function, f"{one.was} -> {one.became}") in unnoticeable:
            fate, left_out = "changes nothing that anybody could notice", left_out + 1
        killed += fate in {"dies", "never ends"}
        if asked.all or fate == "survives":
            print(f"{_where(one)} {one.function}: `{one.was}` -> `{one.became}`: {fate}", flush=True)
    count = len(mutants) - left_out
    rate = 100 * killed / count if count else 100.0
    more = f", {left_out} more change nothing" if left_out else ""
    print(f"{package}: {killed} of {count} die, {rate:.0f} %{more} ({time.monotonic() - begun:.0f} s)", flush=True)
    return rate


def _unnoticeable() -> set[tuple[Path, str, str]]:
    """Return the mutants that no user could notice: (path, function, change)."""
    noted = tomllib.loads((Path(__file__).parent / "unnoticeable.toml").read_text(encoding="utf-8"))
    return {(ROOT / "monitor" / path, one["function"], one["change"]) for path, some in noted.items() for one in some}


def _where(mutant: Mutant) -> str:
    return f"{mutant.path.relative_to(ROOT / 'monitor')}:{mutant.line}"


def _fate(mutant: Mutant, package: str, tests: dict[str, Test]) -> str:
    # A function that was renamed since the notes were made is in none of them: the tests that enter its module see it then.
    chosen = covering(tests, package, mutant.path, None if mutant.function == MODULE else mutant.function)
    chosen = chosen or covering(tests, package, mutant.path, None)
    if not chosen:
        return "survives"
    code, module = compiled(mutant), _module(mutant.path)
    for part in _parts(chosen, tests):
        files = sorted({tests[one].file for one in part})
        limit = _SLACK_S + _SLOWER * sum(tests[one].seconds for one in part)
        fate = in_child(functools.partial(survives, mutant.path, module, code, part, files), limit)
        if fate != 0:
            return "never ends" if fate is None else "dies"
    return "survives"


def _parts(chosen: list[str], tests: dict[str, Test]) -> list[list[str]]:
    """Split tests into those of the nearest files, which most mutants die of, and those of files then not loaded at all."""
    near = [*dict.fromkeys(tests[one].file for one in chosen)][:_NEAREST]
    parts = [[one for one in chosen if (tests[one].file in near) is first] for first in (True, False)]
    return [part for part in parts if part]


def _module(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


if __name__ == "__main__":
    sys.exit(main())
