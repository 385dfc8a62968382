"""One mix with all its questions, beside a bare call of the solver for one of them.

Processor time of one core, least of several runs. The floor is HiGHS itself with the numbers already in its hands: as many
unknowns and four rows, solved once. A mix asks one such question after the other (what must hold, what should, what rots, what
is bought), each of them to the end, so a ratio of several tens is what it should be.
"""

import math
import time
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from highspy import Highs

from monitor.mix import MixLimits, Offer, Part, known_feedstocks, work_out
from monitor.mix.linear import LinearProgram

RUNS = 60
KNOWN = known_feedstocks()
WHOLE = [Part(KNOWN["stable litter"], 400_000)]
CASES: dict[str, tuple[Sequence[Part], Sequence[Offer]]] = {
    "one material in whole, two as needed": (WHOLE, [Offer(KNOWN["leaves"]), Offer(KNOWN["coffee grounds"], 60_000)]),
    "one in whole, eight as needed": (
        WHOLE,
        [Offer(KNOWN[name], 200_000) for name in ("leaves", "coffee grounds", "straw", "grass", "sawdust", "cardboard",
                                                 "food scraps", "wood chips")],
    ),
    "nothing fits, and what would mend it is sought": ([Part(KNOWN["coffee grounds"], 400_000)], []),
}  # fmt: skip


def main() -> None:
    others = list(KNOWN.values())
    for words, (whole, offers) in CASES.items():
        mix = _cpu_s(partial(work_out, whole, offers, MixLimits(), others))
        bare, unknowns = _bare_s(len(offers) + 1), len(offers) + 1
        asked = _questions(whole, offers)
        print(
            f"{words}: {mix * 1000:.1f} ms for {asked} questions; a bare solve of {unknowns} unknowns {bare * 1000:.2f} ms; "
            f"{mix / bare:.0f} times, {mix / bare / asked:.2f} times a question"
        )


def _questions(whole: Sequence[Part], offers: Sequence[Offer]) -> int:
    """Return how many linear programs a mix solves."""
    counted, real = 0, LinearProgram.least

    def least(self: LinearProgram, *given: object) -> object:
        nonlocal counted
        counted += 1
        return real(self, *given)  # type: ignore[arg-type]

    LinearProgram.least = least  # type: ignore[assignment,method-assign]
    try:
        work_out(whole, offers, MixLimits(), list(KNOWN.values()))
    finally:
        LinearProgram.least = real  # type: ignore[method-assign]
    return counted


def _bare_s(unknowns: int) -> float:
    """Return the time of one solve: rows of two ratios within two ends, the least of the last unknown."""
    rng = np.random.default_rng(1)
    rows = rng.uniform(-1, 1, (4, unknowns))

    def solve() -> None:
        solver = Highs()
        solver.silent()
        solver.setOptionValue("threads", 1)
        solver.addVars(unknowns, np.zeros(unknowns), np.full(unknowns, 8_000.0))
        solver.changeColCost(unknowns - 1, 1.0)
        columns = np.arange(unknowns, dtype=np.int32)
        for row in rows:
            solver.addRow(-math.inf, 100.0, unknowns, columns, row)
        solver.run()

    return _cpu_s(solve)


def _cpu_s(work: Callable[[], object]) -> float:
    took = []
    for _ in range(RUNS):
        begun = time.process_time()
        work()
        took.append(time.process_time() - begun)
    return min(took)


if __name__ == "__main__":
    main()
