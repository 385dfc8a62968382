"""Stock, lots and recalls as the page shows them: plain values in words, which the port `Material` fills.

What names people (who brought something, who got something, prices, remarks) is empty where the port was asked without names,
so that no template can show it to a guest.
"""

from dataclasses import dataclass

from monitor.drawing import TreeBox


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """The rest of a delivery.

    Attributes:
        id: Its id, such as `d14`.
        left: How much of it is left, in words.
        age: How long ago it came, in words.
        supplier: Who brought it, or "".
        risks: Its risks.
        looked_for: Whether anybody was asked about risks, in words; "" if it has some.
    """

    id: str
    left: str
    age: str
    supplier: str
    risks: tuple[str, ...]
    looked_for: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InStock:
    """A material.

    Attributes:
        name: Its name.
        amount: How much is there in words, weighed and estimated apart.
        rots: Whether it rots while it waits.
        warnings: What the record does not add up to, in words.
        deliveries: Its deliveries of which something is left, the oldest first.
    """

    name: str
    amount: str
    rots: bool
    warnings: tuple[str, ...]
    deliveries: tuple[Arrived, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLine:
    """A lot in a line or two.

    Attributes:
        id: Its id.
        left: How much of it is left, in words.
        state: `held back`, `not held back`, or `all given out`.
        held: Why it is held back; empty: nothing does.
        made: When it was made, in words.
        heat: What may be said of heat; "" if a list did not ask.
        risks: The risks that it carries; () if a list did not ask.
    """

    id: str
    left: str
    state: str
    held: tuple[str, ...]
    made: str
    heat: str
    risks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Named:
    """Something in the graph of material: its id, and words beside it."""

    id: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StockView:
    """The stock and the lots.

    Attributes:
        materials: The materials, what rots in front.
        lots: The lots, the newest first.
        older: How many lots are left out.
        sources: What can become a lot, the newest first.
        traceable: What can be recalled, the newest first.
        tests: The tests that the yard asks for.
    """

    materials: tuple[InStock, ...]
    lots: tuple[LotLine, ...]
    older: int
    sources: tuple[Named, ...]
    traceable: tuple[Named, ...]
    tests: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ingredient:
    """Something that went into a lot, or may have.

    Attributes:
        id: Its id, by which it can be recalled; "" without names.
        words: What it is.
        certain: Whether it surely went in.
        heat: What may be said of its heat, or "".
        risks: Its risks.
        looked_for: Of a delivery, whether anybody was asked about risks, in words; "" if it has some.
        count: How many alike there are.
    """

    id: str
    words: str
    certain: bool
    heat: str
    risks: tuple[str, ...]
    looked_for: str = ""
    count: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class TestLine:
    """The result of a test: its name, `passed` or `failed`, when, and a remark or ""."""

    test: str
    result: str
    when: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenLine:
    """A part of a lot that one person got: who, how much, for what price or "", and when."""

    receiver: str
    amount: str
    price: str
    when: str


@dataclass(frozen=True, slots=True)
class ConditionLine:
    """A condition of a rule of duration: its word, whether it was kept, and why."""

    word: str
    answer: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DurationLine:
    """A lot held against a rule of duration.

    Attributes:
        rule: The rule's id.
        known: How its figures are known, in words.
        answer: The answer to the whole.
        conditions: Its conditions.
    """

    rule: str
    known: str
    answer: str
    conditions: tuple[ConditionLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotView:
    """The sheet of a lot.

    Attributes:
        line: The lot in a line.
        kind: `Worm castings` or `Compost`.
        risks: Each risk with what brought it, in words.
        ingredients: All that went in, or may have, nearest first.
        tests: Its tests, the newest last.
        given: Who got some of it; () without names.
        cautions: What to heed, sentence by sentence.
        tree: What went in, to be drawn.
        made_ms: When it was made, UTC ms.
        durations: The rules of duration that it was held against; () without names, and for compost.
        unknown: Why some of its dry matter is not told, and what mends it, in sentences; () without names.
    """

    line: LotLine
    kind: str
    risks: tuple[str, ...]
    ingredients: tuple[Ingredient, ...]
    tests: tuple[TestLine, ...]
    given: tuple[GivenLine, ...]
    cautions: tuple[str, ...]
    tree: TreeBox
    made_ms: int
    durations: tuple[DurationLine, ...] = ()
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecalledLot:
    """A lot that has, or may have, something of what is recalled.

    Attributes:
        id: The lot's id.
        certain: Whether it surely has some of it.
        left: How much of the lot is left, in words.
        given: Who got some of the lot.
    """

    id: str
    certain: bool
    left: str
    given: tuple[GivenLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecallView:
    """The answer to a recall.

    Attributes:
        asked: What was asked about.
        went_into: The heaps, beds, harvests and fractions that have, or may have, some of it.
        people: Everybody to be told.
        lots: The lots.
    """

    asked: str
    went_into: tuple[str, ...]
    people: tuple[str, ...]
    lots: tuple[RecalledLot, ...]
