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


@dataclass(frozen=True, slots=True)
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
    source: str = _GOTAAS
    strict: bool = False
    status: Status = Status.SEEN_SECOND_HAND
    caution: str = ""


LETHAL_POINTS: tuple[LethalPoint, ...] = (
    LethalPoint(
        "all-46", "all organisms from faeces, roundworm eggs included", 46_000, 7 * DAY_MS, _ALL_ORGANISMS, strict=True
    ),
    LethalPoint("all-50", "all organisms from faeces, roundworm eggs included", 50_000, DAY_MS, _ALL_ORGANISMS),
    LethalPoint("ascaris-50", "Ascaris lumbricoides (roundworm) eggs", 50_000, HOUR_MS, strict=True),
    LethalPoint("e-coli-55", "Escherichia coli", 55_000, HOUR_MS),
    LethalPoint("e-coli-60", "Escherichia coli", 60_000, 20 * MINUTE_MS),
    LethalPoint(
        "e-coli-straw-55",
        "Escherichia coli 11943 in straw and pig manure",
        55_000,
        2 * HOUR_MS,
        _STRAW,
        strict=True,
        status=Status.SEEN,
        caution="it depends on the moisture",
    ),
    LethalPoint("o157-60", "Escherichia coli O157:H7 in abattoir waste", 60_000, 10 * MINUTE_MS, _ABATTOIR),
    LethalPoint(
        "o157-heaps-50",
        "Escherichia coli O157:H7 inside a heap",
        50_000,
        7 * DAY_MS,
        _HEAPS,
        status=Status.SEEN,
        caution="still found by enrichment up to day 14, and up to 4 months at the surface where a heap is not turned",
    ),
    LethalPoint(
        "bacteria-55", "bacteria that make people ill, judged adequate", 55_000, 3 * DAY_MS, _THESIS, status=Status.SEEN
    ),
    LethalPoint("salmonella-55", "Salmonella", 55_000, HOUR_MS),
    LethalPoint("salmonella-60", "Salmonella", 60_000, 20 * MINUTE_MS),
    LethalPoint("typhoid-55", "Salmonella typhosa (typhoid)", 55_000, 30 * MINUTE_MS, _BOTH),
    LethalPoint("typhoid-60", "Salmonella typhosa (typhoid)", 60_000, 20 * MINUTE_MS, _BOTH),
    LethalPoint("shigella-55", "Shigella", 55_000, HOUR_MS, _BOTH),
    LethalPoint("shigella-60", "Shigella", 60_000, 20 * MINUTE_MS, _BOTH),
    LethalPoint("brucella-55", "Brucella", 55_000, HOUR_MS),
    LethalPoint("diphtheria-55", "Corynebacterium diphtheriae", 55_000, 45 * MINUTE_MS),
    LethalPoint(
        "staphylococcus-60",
        "Staphylococcus aureus",
        60_000,
        30 * MINUTE_MS,
        _BOTH,
        caution="the tables disagree: the other says 10 min at 50 °C",
    ),
    LethalPoint("tuberculosis-66", "Mycobacterium tuberculosis", 66_000, 20 * MINUTE_MS),
    LethalPoint("hookworm-45", "Necator americanus (hookworm)", 45_000, 50 * MINUTE_MS),
    LethalPoint("streptococcus-54", "Streptococcus pyogenes", 54_000, 10 * MINUTE_MS, _BOTH),
    LethalPoint("tapeworm-51", "Taenia saginata (tapeworm)", 51_000, HOUR_MS, _BOTH),
    LethalPoint("cholera-45", "Vibrio cholerae", 45_000, HOUR_MS, _SALVATO),
)
"""In the order in which they are told."""
