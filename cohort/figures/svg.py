"""Make matplotlib's SVG fit to stand in a page.

In comes SVG text as matplotlib writes it; out comes SVG whose styles are plain attributes (a page
with a strict content policy forbids style attributes, and a dark page can then recolour them),
whose ids bear a prefix (many pictures share one page), which is as small as it can be
(`cohort.figures.compact`) and says in words what it shows. Never changes a word.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from cohort.figures.compact import compact, number

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
        What the picture is, in a few words; what it shows.
    """
    root = ET.fromstring(text)  # our own output, never a stranger's
    for tag in ("metadata",):
        for found in root.findall(f"{{{SVG}}}{tag}"):
            root.remove(found)
    _drop_style_sheets(root)
    for element in root.iter():
        _plain(element)
        element.tail = None
        if element.tag != f"{{{SVG}}}text":
            element.text = None
    compact(root)
    for element in root.iter():
        _prefix(element, prefix)
    for name in ("width", "height"):
        root.set(name, f"{float(root.get(name, '0').removesuffix('pt')):.2f}pt")
    root.set("viewBox", " ".join(number(float(n), 2) for n in root.get("viewBox", "").split()))
    root.attrib.pop("version", None)
    root.set("stroke-linejoin", "round")
    root.set("stroke-miterlimit", "100000")
    root.set("font-family", FONTS)
    _named(root, prefix, title, alt)
    return ET.tostring(root, encoding="unicode")


def _named(root: ET.Element, prefix: str, title: str, alt: str) -> None:
    """Say in the picture what it is and what it shows: both are read aloud."""
    root.set("role", "img")
    for name in ("aria-label", "aria-labelledby"):
        root.attrib.pop(name, None)
    words = {"title": title, "desc": alt if alt != title else ""}
    for old in [child for child in root if child.tag.removeprefix(f"{{{SVG}}}") in words]:
        root.remove(old)
    ids = []
    for at, (tag, text) in enumerate((tag, text) for tag, text in words.items() if text):
        element = ET.Element(f"{{{SVG}}}{tag}", {"id": f"{prefix}-{tag}"})
        element.text = text
        root.insert(at, element)
        ids.append(f"{prefix}-{tag}")
    root.set("aria-labelledby", " ".join(ids))


def inline(text: str) -> str:
    """The same picture for the body of a page: no fixed size."""
    root = ET.fromstring(text)  # our own output, never a stranger's
    for size in ("width", "height"):
        root.attrib.pop(size, None)
    return ET.tostring(root, encoding="unicode")


def told(text: str) -> str:
    """What a reader who cannot see a picture hears: title and description."""
    root = ET.fromstring(text)  # our own output, never a stranger's
    by_id = {e.get("id"): "".join(e.itertext()) for e in root.iter() if e.get("id")}
    return " ".join(by_id[name] for name in (root.get("aria-labelledby") or "").split())


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


def _prefix(element: ET.Element, prefix: str) -> None:
    if "id" in element.attrib:
        element.set("id", f"{prefix}-{element.get('id')}")
    for name, value in list(element.attrib.items()):
        if name.endswith("href") and value.startswith("#"):
            element.set(name, f"#{prefix}-{value[1:]}")
        elif value.startswith("url(#"):
            element.set(name, f"url(#{prefix}-{value[5:]}")
