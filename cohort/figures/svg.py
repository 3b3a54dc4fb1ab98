"""Make matplotlib's SVG fit to stand in a page.

In comes SVG text as matplotlib writes it; out comes SVG whose styles are plain attributes (a page
with a strict content policy forbids style attributes, and a dark page can then recolour them),
whose ids bear a prefix (many pictures share one page) and which says in words what it shows.
Never changes a shape or a word.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
FONTS = "DejaVu Sans, Verdana, Geneva, Bitstream Vera Sans, sans-serif"
_FONT = re.compile(r"(?:(italic|oblique)\s+)?(?:(bold|\d{3})\s+)?([\d.]+)px\s+(.*)")

ET.register_namespace("", SVG)
ET.register_namespace("xlink", XLINK)


def clean(text: str, *, prefix: str, title: str, alt: str = "") -> str:
    """SVG text with plain attributes, prefixed ids and an accessible name.

    Parameters
    ----------
    text : str
        SVG as written by matplotlib.
    prefix : str
        Put before every id.
    title, alt : str
        Name of the picture; what it shows, in words.
    """
    root = ET.fromstring(text)  # our own output, never a stranger's
    for tag in ("metadata",):
        for found in root.findall(f"{{{SVG}}}{tag}"):
            root.remove(found)
    _drop_style_sheets(root)
    for element in root.iter():
        _plain(element)
        _round(element)
        _prefix(element, prefix)
    _drop_ids(root)
    root.set("stroke-linejoin", "round")
    root.set("stroke-linecap", "butt")
    root.set("font-family", FONTS)
    root.set("role", "img")
    root.set("aria-label", alt or title)
    name = ET.Element(f"{{{SVG}}}title")
    name.text = title
    root.insert(0, name)
    return ET.tostring(root, encoding="unicode")


def inline(text: str, alt: str) -> str:
    """The same picture for the body of a page: no fixed size, no tooltip, `alt` as its name."""
    root = ET.fromstring(text)  # our own output, never a stranger's
    for size in ("width", "height"):
        root.attrib.pop(size, None)
    for found in root.findall(f"{{{SVG}}}title"):
        root.remove(found)
    root.set("aria-label", alt)
    return ET.tostring(root, encoding="unicode")


def words(text: str) -> list[str]:
    """Every text of an SVG, in order (to read numbers back)."""
    root = ET.fromstring(text)  # our own output, never a stranger's
    return ["".join(t.itertext()).strip() for t in root.iter(f"{{{SVG}}}text")]


def _drop_style_sheets(root: ET.Element) -> None:
    for parent in root.iter():
        for child in list(parent):
            if child.tag == f"{{{SVG}}}style":
                parent.remove(child)


def _plain(element: ET.Element) -> None:
    written = element.attrib.pop("style", "")
    element.attrib.pop("type", None)
    for part in written.split(";"):
        name, _, value = part.partition(":")
        name, value = name.strip(), value.strip()
        if not name or name == "font-family":
            continue
        if name == "font":
            _font(element, value)
        else:
            element.set(name, value.removesuffix("px") if name == "font-size" else value)


def _font(element: ET.Element, value: str) -> None:
    hit = _FONT.fullmatch(value)
    if hit is None:
        raise ValueError(f"font '{value}' is in a form this module does not know")
    slant, weight, size, _ = hit.groups()
    element.set("font-size", size)
    if slant:
        element.set("font-style", "italic")
    if weight:
        element.set("font-weight", weight)


_NUMBER = re.compile(r"-?\d+\.\d{3,}")
_GEOMETRY = ("d", "x", "y", "transform", "width", "height", "stroke-width", "font-size")


def _round(element: ET.Element) -> None:
    """Hundredths of a point are finer than any press."""
    for name in _GEOMETRY:
        value = element.get(name)
        if value is not None:
            short = _NUMBER.sub(lambda hit: f"{float(hit.group()):.2f}", value)
            element.set(name, " ".join(short.split()))


def _drop_ids(root: ET.Element) -> None:
    """Keep only ids that something points to."""
    wanted = set()
    for element in root.iter():
        for value in element.attrib.values():
            wanted.update(re.findall(r"^#(.+)$|url\(#(.+?)\)", value))
    flat = {name for pair in wanted for name in pair if name}
    for element in root.iter():
        if element.get("id") not in flat:
            element.attrib.pop("id", None)


def _prefix(element: ET.Element, prefix: str) -> None:
    if "id" in element.attrib:
        element.set("id", f"{prefix}-{element.get('id')}")
    for name, value in list(element.attrib.items()):
        if name.endswith("href") and value.startswith("#"):
            element.set(name, f"#{prefix}-{value[1:]}")
        elif value.startswith("url(#"):
            element.set(name, f"url(#{prefix}-{value[5:]}")
