"""Reads the code of a drawn label as a camera would: the picture's squares become dots, and a decoder looks for a code."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import zxingcpp

DOTS = 5
"""Dots of the made-up camera for each unit of the picture."""


def text_of_code(svg):
    """Return the text of the one code in a picture whose squares are drawn by `M…h…v…h…z`; None if there is none."""
    root = ET.fromstring(svg)
    wide, high = (float(one) for one in root.get("viewBox").split()[2:])
    seen = np.full((int(high * DOTS) + 1, int(wide * DOTS) + 1), 255, np.uint8)
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        for x, y, across, down in re.findall(r"M([\d.]+) ([\d.]+)h([\d.]+)v([\d.]+)h-[\d.]+z", path.get("d")):
            left, top = round(float(x) * DOTS), round(float(y) * DOTS)
            right, low = round((float(x) + float(across)) * DOTS), round((float(y) + float(down)) * DOTS)
            seen[top:low, left:right] = 0
    # By chance a few squares can be taken for a code of another kind.
    found = [one for one in zxingcpp.read_barcodes(seen) if one.format == zxingcpp.BarcodeFormat.QRCode]
    assert len(found) <= 1
    return found[0].text if found else None
