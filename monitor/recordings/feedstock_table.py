"""Feedstocks from a CSV file of one's own: a row for each, its figures and their ranges.

Columns: `material`, `moisture`, `carbon`, `nitrogen`, `cn`, `density`, `ash`, `woody` (yes or empty), `source`; each figure
also as `…_low` and `…_high`. Percentages are of wet mass for moisture and of dry matter else; density is loose, in kg/m³. A row
needs `moisture`, `nitrogen`, and either `cn` or `carbon`; where both stand there, `cn` decides, as a table's carbon is often
made from it.
"""

import csv
from collections.abc import Mapping
from pathlib import Path

from monitor.mix import Feedstock, Figure
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.text_lines import numbered_lines

_FIGURES = ("moisture", "carbon", "nitrogen", "cn", "density", "ash")
_COLUMNS = {"material", "woody", "source", *(f"{name}{end}" for name in _FIGURES for end in ("", "_low", "_high"))}
AGREES = 0.05
"""By what share C/N and carbon over nitrogen may differ by rounding. Ours."""
_YES, _NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0", "")


def read_feedstocks(path: Path, problems: Problems, remarks: list[str] | None = None) -> dict[str, Feedstock]:
    """Read a table of feedstocks.

    Args:
        path: The CSV file; columns may stand in any order, unknown ones are a problem.
        problems: Receives what is wrong, by line; the row is then left out.
        remarks: Receives a sentence for each row whose C/N and carbon contradict each other.

    Returns:
        The feedstocks by name.

    Raises:
        MisuseError: There is no such file.
        UnavailableError: It cannot be read.
    """
    file, found = str(path), dict[str, Feedstock]()
    columns: list[str] = []
    for number, text in numbered_lines(path, problems, "table of materials"):
        if not text.strip():
            continue
        try:
            fields = _fields(text)
            if not columns:
                columns = _columns(fields)
                continue
            row = dict(zip(columns, fields, strict=False))
            feedstock = _feedstock(row)
        except ValueError as fault:
            problems.add(file, number, str(fault))
            if not columns:
                return {}
            continue
        if feedstock.name in found:
            problems.add(file, number, f"{feedstock.name} stands there twice; the first row is taken")
            continue
        found[feedstock.name] = feedstock
        if remarks is not None and (said := _contradiction(feedstock, row)):
            remarks.append(f"{file}, line {number}: {said}")
    if not columns:
        problems.add(file, 1, "the file is empty; its first line names the columns")
    return found


def _fields(text: str) -> list[str]:
    """Return the fields of a line.

    Raises:
        ValueError: Its quotes make no sense.
    """
    try:
        return [one.strip() for one in next(csv.reader([text]), [])]
    except csv.Error as fault:
        raise ValueError(f'not a CSV row ({fault}); put the whole text in quotes, "" for a quote') from fault


def _columns(fields: list[str]) -> list[str]:
    """Return the names of the columns.

    Raises:
        ValueError: One is missing or unknown.
    """
    columns = [one.casefold() for one in fields]
    missing = [one for one in ("material", "moisture", "nitrogen") if one not in columns]
    strange = [one for one in columns if one not in _COLUMNS]
    if missing or strange:
        said = f"column {missing[0]} is missing" if missing else f"there is no column {quoted(strange[0])}"
        raise ValueError(f"{said}; the columns are material, {', '.join(_FIGURES)}, woody, source")
    return columns


def _feedstock(row: Mapping[str, str]) -> Feedstock:
    name = row.get("material", "")
    if not name:
        raise ValueError("the row names no material")
    figures = {what: _figure(row, name, what) for what in _FIGURES}
    moisture, nitrogen = figures["moisture"], figures["nitrogen"]
    if moisture is None or nitrogen is None:
        raise ValueError(f"{name}: its {'moisture' if moisture is None else 'nitrogen'} is missing")
    if 0 < moisture.typical < 1:
        raise ValueError(
            f"{name}: moisture {moisture.typical:g} looks like a share of 1; write percent, {moisture.typical * 100:g}"
        )
    woody = row.get("woody", "").casefold()
    if woody not in (*_YES, *_NO):
        raise ValueError(f"{name}: woody is yes or no, not {quoted(woody)}")
    return Feedstock(
        name=name,
        moisture=moisture,
        nitrogen=nitrogen,
        cn=figures["cn"],
        carbon=None if figures["cn"] is not None else figures["carbon"],
        density=figures["density"],
        ash=figures["ash"],
        woody=woody in _YES,
        source=row.get("source", ""),
    )


def _contradiction(feedstock: Feedstock, row: Mapping[str, str]) -> str:
    """Return that a row's carbon says another C/N than its `cn`, which counts; "" if both agree or one is missing."""
    carbon = _number(row, feedstock.name, "carbon")
    if feedstock.cn is None or carbon is None:
        return ""
    of_carbon = carbon / feedstock.nitrogen.typical
    if abs(of_carbon - feedstock.cn.typical) <= AGREES * feedstock.cn.typical:
        return ""
    return (
        f"{feedstock.name} has C/N {feedstock.cn.typical:g}, and its carbon and nitrogen make {of_carbon:.3g}; "
        f"{feedstock.cn.typical:g} counts. Leave out what is wrong."
    )


def _figure(row: Mapping[str, str], name: str, what: str) -> Figure | None:
    low, typical, high = (_number(row, name, f"{what}{end}") for end in ("_low", "", "_high"))
    if typical is None:
        if low is not None or high is not None:
            raise ValueError(f"{name}: {what} has an end and no usual value")
        return None
    return Figure.known(typical, low, high)


def _number(row: Mapping[str, str], name: str, column: str) -> float | None:
    text = row.get(column, "")
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{name}: {column} is {quoted(text)}, which is no number") from None
