"""Says where a mix lies: which way it misses what is best, or what must be kept."""

from collections.abc import Iterator

from monitor.drawing.mix_values import MixMaterial, MixPicture, Spread, Stretch

TOO_DRY, TOO_WET, TOO_RICH, TOO_WOODY = "too dry", "too wet", "too rich", "too woody"
"""The four sides of the picture: left, right, below (rich in nitrogen), above."""
_SAID_MATERIALS = 16


def position_words(picture: MixPicture) -> str:
    """Return where a mix lies: `at its best`, `a little wet`, `too dry and too woody`."""
    if picture.cn is None:
        return "without nitrogen, so it does not heat"
    cn = picture.cn.value
    must = list(_beyond(picture.moisture.value, cn, picture.moisture_must, picture.cn_must))
    if must:
        return " and ".join(must)
    should = list(_beyond(picture.moisture.value, cn, picture.moisture_best, picture.cn_best))
    if not should:
        return "at its best"
    return " and ".join(one.replace("too ", "a little ") for one in should) + ", though it will do"


def _beyond(moisture: float, cn: float, wet: Stretch, ratio: Stretch) -> Iterator[str]:
    if not wet.holds(moisture):
        yield TOO_DRY if moisture < wet.low else TOO_WET
    if not ratio.holds(cn):
        yield f"{TOO_RICH} in nitrogen" if cn < ratio.low else TOO_WOODY


def say_mix(picture: MixPicture) -> str:
    """Describe a mix among its limits in sentences."""
    ratio = "no nitrogen" if picture.cn is None else f"C/N {_say_spread(picture.cn)}"
    best = f"a moisture of {_say_stretch(picture.moisture_best)} % and a C/N of {_say_stretch(picture.cn_best)}"
    must = f"{_say_stretch(picture.moisture_must)} % and {_say_stretch(picture.cn_must)}"
    said = [
        f"The mix has a moisture of {_say_spread(picture.moisture, ' %')} and {ratio}: {position_words(picture)}.",
        f"Best is {best}; it must lie within {must}.",
        "The picture has too dry on the left, too wet on the right, too rich in nitrogen below and too woody above.",
    ]
    for taken, words in ((True, "Of its materials"), (False, "Left out")):
        some = [one for one in picture.materials if one.taken is taken]
        if some:
            more = f"; and {len(some) - _SAID_MATERIALS} more" if len(some) > _SAID_MATERIALS else ""
            said.append(f"{words}: {'; '.join(map(_say_material, some[:_SAID_MATERIALS]))}{more}.")
    return " ".join(said)


def _say_material(one: MixMaterial) -> str:
    ratio = "no nitrogen" if one.cn is None else f"C/N {_plain(one.cn)}"
    return f"{one.name}, {_plain(one.moisture)} % and {ratio}"


def _say_spread(spread: Spread, unit: str = "") -> str:
    low, value, high = (_plain(end) for end in spread)
    return f"{value}{unit}" + ("" if low == value == high else f" ({low} to {high})")


def _say_stretch(stretch: Stretch) -> str:
    low, high = (_plain(end) for end in stretch)
    return low if low == high else f"{low} to {high}"


def _plain(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.1f}".removesuffix(".0")
