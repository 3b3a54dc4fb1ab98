"""Fewer bytes for the same picture.

In comes the tree of an SVG whose styles are plain attributes; it is changed in place: numbers to a
tenth of a point, paths in their shortest form, shapes of one look in one path, marks defined once,
looks shared by neighbours said once in a group, clips that clip nothing left away. Never changes
what is seen by more than a twentieth of a point (0.02 mm, a dot at 1400 dots to the inch), never
touches a word.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

SVG = "{http://www.w3.org/2000/svg}"
XLINK = "{http://www.w3.org/1999/xlink}"
GEOMETRY = {"d", "x", "y", "x1", "y1", "x2", "y2", "width", "height", "transform", "id", "href",
            "points"}  # fmt: skip
"""Attributes that say where something is and not how it looks."""
DEFAULTS = {
    "stroke-linejoin": "round", "stroke-linecap": "butt", "stroke-miterlimit": "100000",
    "opacity": "1", "fill-opacity": "1", "stroke-opacity": "1", "text-anchor": "start",
    "font-style": "normal", "font-weight": "400", "stroke": "none", "fill": "#000000",
}  # fmt: skip
"""What an element has without saying so, under our root."""
MARK = 4.0
"""Points a mark reaches beyond its place at most."""
COARSE, FINE = 1, 2
"""Decimals of places, and of the shapes of marks."""
_TOKEN = re.compile(r"[MLHVCQZmlz]|-?\d*\.?\d+(?:e-?\d+)?")
_BOX = re.compile(r"M (\S+) (\S+) L (\S+) (\S+) L (\S+) (\S+) L (\S+) (\S+) z")
ARGUMENTS = {"M": 2, "L": 2, "C": 6, "Q": 4, "Z": 0}


def compact(root: ET.Element) -> None:
    """Make a picture smaller, in place."""
    _drop_unasked(root)
    clips = _clips(root)
    for element in list(root.iter()):
        _drop_useless_clip(element, clips)
        _drop_defaults(element)
    _one_definition(root)
    _drop_unasked(root)
    _unwrap(root)
    for parent in list(root.iter()):
        _merge_paths(parent)
    shapes = {p for d in root.iter(f"{SVG}defs") for p in d.iter(f"{SVG}path")}
    for element in root.iter():
        _short_numbers(element, FINE if element in shapes else COARSE)
    for parent in list(root.iter()):
        if parent.tag in (root.tag, f"{SVG}g"):
            _share_looks(parent)
    _short_ids(root)


# ------------------------------------------------------------------ paths


def segments(path: str) -> Iterator[tuple[str, list[float]]]:
    """Commands of a path as matplotlib writes it (absolute) with their numbers."""
    tokens = _TOKEN.findall(path)
    at = 0
    while at < len(tokens):
        command = tokens[at].upper()
        count = ARGUMENTS[command]
        yield command, [float(t) for t in tokens[at + 1 : at + 1 + count]]
        at += 1 + count


def short_path(path: str, decimals: int) -> str:
    """The same path in fewer letters: level and upright lines, relative where that is shorter."""
    out: list[str] = []
    x = y = start_x = start_y = 0.0
    before = ""
    for command, numbers in segments(path):
        values = [round(n, decimals) + 0.0 for n in numbers]
        if command == "Z":
            out.append("z")
            x, y, before = start_x, start_y, "z"
            continue
        to_x, to_y = values[-2], values[-1]
        if command == "L" and to_x == x and to_y == y and before not in ("M", ""):
            continue
        text, before = _shortest(command, values, x, y, before, decimals)
        out.append(text)
        x, y = to_x, to_y
        if command == "M":
            start_x, start_y = x, y
    return "".join(out)


def _shortest(
    command: str, values: list[float], x: float, y: float, before: str, decimals: int
) -> tuple[str, str]:
    """A command from a place, absolute or relative, whichever is shorter; and its letter."""
    moved = [round(v - (y if i % 2 else x), decimals) for i, v in enumerate(values)]
    tries = [(command, values), (command.lower(), moved)]
    if command == "M":
        tries = tries[:1]
    elif command == "L" and moved[1] == 0:
        tries = [("H", values[:1]), ("h", moved[:1])]
    elif command == "L" and moved[0] == 0:
        tries = [("V", values[1:]), ("v", moved[1:])]
    told = []
    for letter, numbers in tries:
        body = _numbers(numbers, decimals)
        # the letter is left out where it is the one before (after M: L)
        same = letter == before or (before == "M" and letter == "L")
        told.append(((" " if same and not body.startswith("-") else "") + body if same
                     else letter + body, letter))  # fmt: skip
    return min(told, key=lambda pair: len(pair[0]))


def _numbers(values: list[float], decimals: int) -> str:
    out = ""
    for i, value in enumerate(values):
        word = number(value, decimals)
        out += word if i == 0 or word.startswith("-") else " " + word
    return out


def number(value: float, decimals: int = COARSE) -> str:
    """A number in as few letters as it takes."""
    word = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    word = "0" if word in ("-0", "") else word
    return re.sub(r"^(-?)0\.", r"\1.", word)


def _merge_paths(parent: ET.Element) -> None:
    """Opaque neighbours of one look become one path."""
    before: ET.Element | None = None
    for child in list(parent):
        if child.tag != f"{SVG}path" or parent.tag in (f"{SVG}defs", f"{SVG}clipPath"):
            before = None
            continue
        if before is not None and _look(child) == _look(before) and _opaque(child):
            before.set("d", f"{before.get('d')} {child.get('d')}")
            parent.remove(child)
        else:
            before = child


def _look(element: ET.Element) -> dict[str, str]:
    return {k: v for k, v in element.attrib.items() if k not in GEOMETRY}


def _opaque(element: ET.Element) -> bool:
    """Whether shapes may lie on each other in one path and look as before."""
    if any(name.endswith("opacity") for name in element.attrib) or "id" in element.attrib:
        return False
    outlined = element.get("stroke", "none") != "none" and element.get("fill") != "none"
    return not outlined and "stroke-dasharray" not in element.attrib


# ------------------------------------------------------------------ clips, groups, definitions


def _clips(root: ET.Element) -> dict[str, tuple[float, float, float, float]]:
    """Rectangles of the clips by their name: left, top, right, bottom."""
    out = {}
    for clip in root.iter(f"{SVG}clipPath"):
        rect = clip.find(f"{SVG}rect")
        if rect is not None:
            x, y, w, h = (float(rect.get(name, "0")) for name in ("x", "y", "width", "height"))
            out[f"url(#{clip.get('id')})"] = (x, y, x + w, y + h)
    return out


def _drop_useless_clip(
    element: ET.Element, clips: dict[str, tuple[float, float, float, float]]
) -> None:
    """Leave a clip away where everything lies inside it by a little."""
    box = clips.get(element.get("clip-path", ""))
    if box is None:
        return
    slack = 0.6
    xs: list[float] = []
    ys: list[float] = []
    for one in element.iter():
        if one.tag == f"{SVG}path":
            for _, values in segments(one.get("d", "")):
                xs += values[0::2]
                ys += values[1::2]
        elif one.tag == f"{SVG}use":  # a mark reaches beyond its place
            xs += [float(one.get("x", "0")) + d for d in (-MARK, MARK)]
            ys += [float(one.get("y", "0")) + d for d in (-MARK, MARK)]
    inside = xs and box[0] - slack <= min(xs) and max(xs) <= box[2] + slack
    if inside and box[1] - slack <= min(ys) and max(ys) <= box[3] + slack:
        del element.attrib["clip-path"]


def _drop_defaults(element: ET.Element) -> None:
    for name, value in DEFAULTS.items():
        if name == "fill" and element.tag == f"{SVG}use":
            continue
        if element.get(name) == value and element.tag != f"{SVG}svg":
            del element.attrib[name]


def _one_definition(root: ET.Element) -> None:
    """Marks of one shape are defined once; definitions nobody asks for are left away."""
    known: dict[tuple[str, ...], str] = {}
    other: dict[str, str] = {}
    parents = {child: parent for parent in root.iter() for child in parent}
    for defs in list(root.iter(f"{SVG}defs")):
        for shape in list(defs):
            if shape.tag != f"{SVG}path":
                continue
            same = (shape.get("d", ""), *sorted(map(str, _look(shape).items())))
            name = shape.get("id", "")
            if same in known:
                other[name] = known[same]
                defs.remove(shape)
            else:
                known[same] = name
        if not len(defs):
            parents[defs].remove(defs)
    for use in root.iter(f"{SVG}use"):
        link = use.attrib.pop(f"{XLINK}href", use.get("href", ""))
        use.set("href", "#" + other.get(link[1:], link[1:]))


def _drop_unasked(root: ET.Element) -> None:
    """Leave away names and definitions that nothing points to, and shapes without any ink."""
    wanted = {
        name
        for element in root.iter()
        for value in element.attrib.values()
        for pair in re.findall(r"^#(.+)$|^url\(#(.+)\)$", value)
        for name in pair
        if name
    }
    for parent in list(root.iter()):
        for child in list(parent):
            bare = child.get("fill") == "none" and child.get("stroke", "none") == "none"
            unasked = parent.tag == f"{SVG}defs" and child.get("id") not in wanted
            if unasked or (child.tag == f"{SVG}path" and bare and parent.tag != f"{SVG}defs"):
                parent.remove(child)
            elif child.get("id") not in wanted:
                child.attrib.pop("id", None)


def _unwrap(parent: ET.Element) -> None:
    """Groups that say nothing give their place to what they hold."""
    for child in list(parent):
        _unwrap(child)
        if child.tag == f"{SVG}g" and not child.attrib:
            at = list(parent).index(child)
            parent.remove(child)
            for i, inner in enumerate(list(child)):
                parent.insert(at + i, inner)
        elif child.tag == f"{SVG}defs" and not len(child):
            parent.remove(child)


def _share_looks(parent: ET.Element) -> None:
    """Two or more neighbours of one look get a group that says it for them."""
    run: list[ET.Element] = []
    for child in [*list(parent), None]:
        fits = (
            child is not None
            and child.tag in (f"{SVG}text", f"{SVG}use", f"{SVG}path")
            and bool(_look(child))
            and (not run or _look(child) == _look(run[0]))
        )
        if fits and child is not None:
            run.append(child)
            continue
        _gather(parent, run)
        known = child is not None and child.tag in (f"{SVG}text", f"{SVG}use", f"{SVG}path")
        run = [child] if child is not None and known and _look(child) else []


def _gather(parent: ET.Element, run: list[ET.Element]) -> None:
    if len(run) < 2:
        return
    look = _look(run[0])
    if len(run) == len(parent) and parent.tag == f"{SVG}g" and not look.keys() & parent.keys():
        for child in run:
            for name in look:
                del child.attrib[name]
        parent.attrib.update(look)
        return
    group = ET.Element(f"{SVG}g", _look(run[0]))
    parent.insert(list(parent).index(run[0]), group)
    for child in run:
        parent.remove(child)
        for name in _look(child):
            del child.attrib[name]
        group.append(child)


def _short_numbers(element: ET.Element, decimals: int) -> None:
    if "d" in element.attrib:
        element.set("d", short_path(element.get("d", ""), decimals))
    for name in ("x", "y", "width", "height", "stroke-width", "font-size"):
        value = element.get(name)
        if value is not None and re.fullmatch(r"-?[\d.]+", value):
            element.set(name, number(float(value), FINE if name[0] in "sf" else COARSE))
    turn = element.get("transform")
    if turn is not None:
        if re.match(r"rotate\(-?0(?:\.0*)? ", turn):
            del element.attrib["transform"]
        else:
            element.set("transform", re.sub(r"-?\d+\.\d+", lambda hit: number(float(hit.group())),
                                            turn))  # fmt: skip


def _short_ids(root: ET.Element) -> None:
    """Names of what is pointed at, as short as they can be after their picture's."""
    named = [element for element in root.iter() if element.get("id")]
    new = {e.get("id", ""): f"{i}" for i, e in enumerate(named)}
    for element in root.iter():
        for name, value in list(element.attrib.items()):
            if name == "id":
                element.set("id", f"n{new[value]}")
            elif name == "href" and value[1:] in new:
                element.set(name, f"#n{new[value[1:]]}")
            elif value.startswith("url(#") and value[5:-1] in new:
                element.set(name, f"url(#n{new[value[5:-1]]})")
