"""Marks, strokes and words of a picture, read out of its SVG as a viewer would.

Looks may be said by a group, marks are copies of a shape, lines may be level (H), upright (V) or
relative: written apart from `cohort.figures.compact`.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

SVG = "{http://www.w3.org/2000/svg}"
LOOKS = ("fill", "stroke", "text-anchor", "font-size", "font-style",
         "stroke-width")  # fmt: skip
Point = tuple[float, float]


def looked(path) -> Iterator[tuple[ET.Element, dict[str, str]]]:
    """Every element that is drawn, with the looks that it has or that its groups give it."""
    root = ET.fromstring(path.read_text(encoding="utf-8"))
    stack: list[tuple[ET.Element, dict[str, str]]] = [(root, {})]
    while stack:
        element, given = stack.pop()
        if element.tag in (f"{SVG}defs", f"{SVG}clipPath"):
            continue
        look = given | {name: element.get(name) for name in LOOKS if element.get(name)}
        yield element, look
        stack += [(child, look) for child in reversed(element)]


def marks(path) -> Iterator[tuple[float, float, dict[str, str]]]:
    """Place of every mark, points, and its looks."""
    for element, look in looked(path):
        if element.tag == f"{SVG}use":
            yield float(element.get("x", "0")), float(element.get("y", "0")), look


def words_of(path) -> Iterator[tuple[float, str, dict[str, str]]]:
    """Where every text stands across, points, the text, and its looks."""
    for element, look in looked(path):
        if element.tag == f"{SVG}text":
            place = re.search(r"translate\(([\d.]+)", element.get("transform") or "")
            yield (float(element.get("x") or place[1]), "".join(element.itertext()).strip(), look)


def strokes(path) -> Iterator[tuple[tuple[Point, Point], dict[str, str]]]:
    """Both ends of every straight piece of a path, points, and its looks."""
    for element, look in looked(path):
        if element.tag == f"{SVG}path":
            for piece in _pieces(element.get("d", "")):
                yield piece, look


def _pieces(text: str) -> Iterator[tuple[Point, Point]]:
    tokens = re.findall(r"[A-Za-z]|-?(?:\d+\.?\d*|\.\d+)", text)
    at: Point = (0.0, 0.0)
    start, command, i = at, "", 0
    while i < len(tokens):
        if tokens[i].isalpha():
            command, i = tokens[i], i + 1
        small, base = command.islower(), command.upper()
        if base == "Z":
            at = start
            continue
        count = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "Q": 4}[base]
        numbers = [float(t) for t in tokens[i : i + count]]
        i += count
        x, y = at if small else (0.0, 0.0)
        if base == "H":
            to = (x + numbers[0], at[1])
        elif base == "V":
            to = (at[0], y + numbers[0])
        else:
            to = (x + numbers[-2], y + numbers[-1])
        if base in "LHV":
            yield (at, to)
        if base == "M":
            start, command = to, "l" if small else "L"
        at = (round(to[0], 3), round(to[1], 3))
