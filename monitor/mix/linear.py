"""A small linear program by name, solved by HiGHS (the extra `mix`)."""

import math
from collections.abc import Mapping
from importlib.util import find_spec

from monitor.model.errors import InvariantError, MisuseError

NO_SOLVER = "Working out a mix needs the extra `mix`: pip install 'heaptender[mix]'."
_SLACK = 1e-5
"""How far a demand may be passed, in units of its heaviest unknown: 10 milligrams, where these are kilograms."""


def lacks_solver() -> str:
    """Return why no mix can be worked out here, a sentence; "" if the solver is installed."""
    return "" if find_spec("highspy") is not None else NO_SOLVER


class LinearProgram:
    """Unknowns at or above 0, and limits on their weighted sums."""

    def __init__(self) -> None:
        self._most: dict[str, float] = {}
        self._rows: list[tuple[dict[str, float], float]] = []

    def unknown(self, name: str, most: float = math.inf) -> None:
        """Add an unknown amount between 0 and `most`."""
        self._most[name] = most

    def at_most(self, weights: Mapping[str, float], limit: float) -> None:
        """Demand that a weighted sum of unknowns is at most `limit`."""
        self._rows.append((dict(weights), limit + _SLACK * _scale(weights)))

    def possible(self, weights: Mapping[str, float], limit: float) -> bool:
        """Return whether a weighted sum can be at most `limit`, beside everything demanded so far."""
        return self.least({}, (weights, limit)) is not None

    def least(
        self, goal: Mapping[str, float], also: tuple[Mapping[str, float], float] | None = None
    ) -> dict[str, float] | None:
        """Find the unknowns whose weighted sum is least.

        Args:
            goal: The weights by the unknowns' names.
            also: A further demand for this question alone, as `at_most`.

        Returns:
            The unknowns by name; None if the demands contradict each other.

        Raises:
            MisuseError: The solver is not installed.
            InvariantError: The sum has no least value, or the solver gave up.
        """
        import numpy as np  # noqa: PLC0415 (as below)

        try:
            from highspy import Highs, HighsModelStatus  # noqa: PLC0415 (an extra; nothing else needs it)
        except ImportError:
            raise MisuseError(NO_SOLVER) from None
        names = list(self._most)
        number = {name: i for i, name in enumerate(names)}
        solver = Highs()  # type: ignore[no-untyped-call]
        solver.silent()
        solver.setOptionValue("threads", 1)
        solver.addVars(len(names), np.zeros(len(names)), np.array([self._most[name] for name in names]))
        for name, weight in goal.items():
            solver.changeColCost(number[name], weight)
        for weights, limit in (*self._rows, *([] if also is None else [also])):
            # Rows are scaled to weights of about 1, so that the solver's tolerance means the same in each.
            scale = _scale(weights)
            columns = np.array([number[name] for name in weights], dtype=np.int32)
            values = np.array([weight / scale for weight in weights.values()])
            solver.addRow(-math.inf, limit / scale, len(weights), columns, values)
        solver.run()
        status = solver.getModelStatus()
        if status == HighsModelStatus.kInfeasible:
            return None
        if status != HighsModelStatus.kOptimal:
            raise InvariantError(f"the solver of mixes ended with {solver.modelStatusToString(status)}")
        return dict(zip(names, (max(0.0, value) for value in solver.getSolution().col_value), strict=True))


def _scale(weights: Mapping[str, float]) -> float:
    return max((abs(weight) for weight in weights.values()), default=1.0) or 1.0
