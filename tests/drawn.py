"""Drawings read back: SVG by the parser of the standard library, paths by their own small grammar."""

import re
from xml.etree import ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"
_STEP = re.compile(r"([MLHVmhvZ])\s*([^MLHVmhvZ]*)")


def read(drawing):
    """The tree of a drawing; whatever is no well-formed XML fails here."""
    return ET.fromstring(drawing)


def classed(drawing, look):
    """The elements of a drawing with this among their classes."""
    return [each for each in read(drawing).iter() if look in (each.get("class") or "").split()]


def corners(path):
    """The corners of a path, each run of it from M on as a list (SVG 1.1, 8.3: M m L H V h v Z); a bare M is no run."""
    runs, x, y = [], 0.0, 0.0
    for letter, rest in _STEP.findall(path):
        numbers = [float(one) for one in re.findall(r"-?[\d.]+", rest)]
        match letter:
            case "M":
                x, y = numbers
                runs.append([])
            case "m":
                x, y = x + numbers[0], y + numbers[1]
                runs.append([])
            case "L":
                x, y = numbers
            case "H":
                x = numbers[0]
            case "V":
                y = numbers[0]
            case "h":
                x += numbers[0]
            case "v":
                y += numbers[0]
            case "Z":
                x, y = runs[-1][0]
        runs[-1].append((round(x, 3), round(y, 3)))
    return [run for run in runs if len(run) > 1]


def stretches(drawing, look):
    """The horizontal stretches of a path of this class: (left, right, height of its middle)."""
    found = []
    for each in classed(drawing, look):
        for run in corners(each.get("d")):
            (left, y), (right, _) = run[0], run[-1]
            found.append((left, right, y))
    return found
