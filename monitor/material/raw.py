"""Materials that are raw by their name: untreated manure, food and other wastes of animals and kitchens.

Source: the list is our choice. Material of animals and kitchens is untreated until a rule is met: 21 CFR 112.51(b), as
`heat_status` cites it. Leaves, straw, chips and finished compost are the usual covers, and no question is asked about them.
"""

import re

_RAW = re.compile(
    r"\b(manures?|dung|muck|slurry|droppings|guano|urine|sludge|biosolids?|sewage|faeces|feces|litter"
    r"|food( (scraps?|wastes?))?|kitchen( (scraps?|wastes?))?|table waste|scraps|offal|meat|fish|bones?|blood|carcass(es)?"
    r"|pomace|whey)\b"
)
_TREATED = re.compile(
    r"\b(composted|finished|cured|heat[- ]treated|pasteuri[sz]ed|sterili[sz]ed|leaf litter)\b|\bmeal\b"
)


def is_raw(material: str) -> bool:
    """Return whether a material is raw by its name; an unknown one, or one called composted or treated, is not."""
    name = material.casefold()
    return bool(_RAW.search(name)) and not _TREATED.search(name)
