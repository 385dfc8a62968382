"""Published times and temperatures that kill, as data: what a batch can be held beside, never a verdict.

Only points with a definite temperature and time, each as it stands in a source that was read (`seen`) or in one that was
read in another's copy (`seen-2nd`). Of a range (15 to 20 min) the longer time is taken. They were found in sewage,
manure or the laboratory; moisture and the material change them.
"""

from dataclasses import dataclass

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.rules import Status

_GOTAAS = "Gotaas 1956, WHO Monograph 31, p. 81, as copied on grovida.us"
_SALVATO = "Salvato, Environmental Engineering, Table 3.3, as copied on what-when-how.com"
_BOTH = f"{_GOTAAS}; {_SALVATO}"
_ALL_ORGANISMS = "cited in the Humanure Handbook, ch. 7 (weblife.org)"
_STRAW = "Bioresource Technology 84 (2002) 57-61, abstract"
_ABATTOIR = "Avery et al. 2009, abstract"
_HEAPS = "study of E. coli O157:H7 in on-farm heaps, abstract"
_THESIS = "Cooper 2015, thesis, abstract (ruor.uottawa.ca 10393/32093)"


@dataclass(frozen=True, slots=True, kw_only=True)
class LethalPoint:
    """One published point.

    Attributes:
        key: Its name for programs.
        organism: What dies, for people.
        milli_c: Temperature, thousandths of a degree Celsius; included unless `strict`.
        duration_ms: How long without a break, ms.
        strict: Whether the source says above.
        source, status: Where it was read, and how it is known.
        caution: What the source adds, or "".
    """

    key: str
    organism: str
    milli_c: int
    duration_ms: int
    source: str
    strict: bool = False
    status: Status = Status.SEEN_SECOND_HAND
    caution: str = ""


def _point(key: str, organism: str, milli_c: int, duration_ms: int, source: str = _GOTAAS) -> LethalPoint:
    return LethalPoint(key=key, organism=organism, milli_c=milli_c, duration_ms=duration_ms, source=source)


LETHAL_POINTS: tuple[LethalPoint, ...] = (
    LethalPoint(
        key="all-46",
        organism="all organisms from faeces, roundworm eggs included",
        milli_c=46_000,
        duration_ms=7 * DAY_MS,
        strict=True,
        source=_ALL_ORGANISMS,
    ),
    _point("all-50", "all organisms from faeces, roundworm eggs included", 50_000, DAY_MS, _ALL_ORGANISMS),
    LethalPoint(
        key="ascaris-50",
        organism="Ascaris lumbricoides (roundworm) eggs",
        milli_c=50_000,
        duration_ms=HOUR_MS,
        strict=True,
        source=_GOTAAS,
    ),
    _point("e-coli-55", "Escherichia coli", 55_000, HOUR_MS),
    _point("e-coli-60", "Escherichia coli", 60_000, 20 * MINUTE_MS),
    LethalPoint(
        key="e-coli-straw-55",
        organism="Escherichia coli 11943 in straw and pig manure",
        milli_c=55_000,
        duration_ms=2 * HOUR_MS,
        strict=True,
        source=_STRAW,
        status=Status.SEEN,
        caution="it depends on the moisture",
    ),
    _point("o157-60", "Escherichia coli O157:H7 in abattoir waste", 60_000, 10 * MINUTE_MS, _ABATTOIR),
    LethalPoint(
        key="o157-heaps-50",
        organism="Escherichia coli O157:H7 inside a heap",
        milli_c=50_000,
        duration_ms=7 * DAY_MS,
        source=_HEAPS,
        status=Status.SEEN,
        caution="still found by enrichment up to day 14, and up to 4 months at the surface where a heap is not turned",
    ),
    LethalPoint(
        key="bacteria-55",
        organism="bacteria that make people ill, judged adequate",
        milli_c=55_000,
        duration_ms=3 * DAY_MS,
        source=_THESIS,
        status=Status.SEEN,
    ),
    _point("salmonella-55", "Salmonella", 55_000, HOUR_MS),
    _point("salmonella-60", "Salmonella", 60_000, 20 * MINUTE_MS),
    _point("typhoid-55", "Salmonella typhosa (typhoid)", 55_000, 30 * MINUTE_MS, _BOTH),
    _point("typhoid-60", "Salmonella typhosa (typhoid)", 60_000, 20 * MINUTE_MS, _BOTH),
    _point("shigella-55", "Shigella", 55_000, HOUR_MS, _BOTH),
    _point("shigella-60", "Shigella", 60_000, 20 * MINUTE_MS, _BOTH),
    _point("brucella-55", "Brucella", 55_000, HOUR_MS),
    _point("diphtheria-55", "Corynebacterium diphtheriae", 55_000, 45 * MINUTE_MS),
    LethalPoint(
        key="staphylococcus-60",
        organism="Staphylococcus aureus",
        milli_c=60_000,
        duration_ms=30 * MINUTE_MS,
        source=_BOTH,
        caution="the tables disagree: the other says 10 min at 50 °C",
    ),
    _point("tuberculosis-66", "Mycobacterium tuberculosis", 66_000, 20 * MINUTE_MS),
    _point("hookworm-45", "Necator americanus (hookworm)", 45_000, 50 * MINUTE_MS),
    _point("streptococcus-54", "Streptococcus pyogenes", 54_000, 10 * MINUTE_MS, _BOTH),
    _point("tapeworm-51", "Taenia saginata (tapeworm)", 51_000, HOUR_MS, _BOTH),
    _point("cholera-45", "Vibrio cholerae", 45_000, HOUR_MS, _SALVATO),
)
"""In the order in which they are told."""
