#!/usr/bin/env python3
"""Drafts read back by an independent geometry library (shapely, from the Python registry).

    python3 -m venv /tmp/outside && /tmp/outside/bin/pip install shapely
    /tmp/outside/bin/python tests/outside/geometry.py FOLDER

FOLDER is what `handcall draft ROSTER.csv --out FOLDER` (or `handcall demo`) wrote. Every SVG is
read as XML, its paths are flattened here (cubic Bezier by its definition, 64 chords each), and
shapely says whether outlines are simple and closed, whether each seam line lies inside its cut
line and how far, and how large each piece is; the cut list must say the same size.

Independent of our code: the drawing is all that is shared.
"""

import csv
import math
import re
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import shapely
from shapely.geometry import LinearRing, Polygon

CHORDS = 64
SVG = "{http://www.w3.org/2000/svg}"


def numbers(text):
    return [float(n) for n in re.findall(r"-?\d*\.?\d+(?:e-?\d+)?", text)]


def rings(path):
    """Points of every closed part of a path of M, L, C, Z with absolute coordinates."""
    parts, here = [], []
    for command, body in re.findall(r"([MLCQHVZ])([^MLCQHVZ]*)", path):
        n = numbers(body)
        if command == "M":
            here = [(n[0], n[1])]
            n, command = n[2:], "L"
        if command == "L":
            here += list(zip(n[::2], n[1::2]))
        elif command == "H":
            here += [(x, here[-1][1]) for x in n]
        elif command == "V":
            here += [(here[-1][0], y) for y in n]
        elif command == "C":
            for at in range(0, len(n), 6):
                (x0, y0), (x1, y1, x2, y2, x3, y3) = here[-1], n[at : at + 6]
                for step in range(1, CHORDS + 1):
                    t = step / CHORDS
                    a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
                    here.append((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3))
        elif command == "Z":
            parts.append(here)
            here = []
        elif command == "Q":
            raise ValueError("a quadratic curve: teach me")
    return parts


def outlines(root, kind):
    found = []
    for group in root.iter(f"{SVG}g"):
        if kind in group.get("class", "").split():
            for path in group.iter(f"{SVG}path"):
                found += rings(path.get("d"))
    return found


def check(file, faults):
    root = ElementTree.parse(file).getroot()
    seams, cuts = outlines(root, "seam"), outlines(root, "cut")
    polygons = {}
    for kind, all_rings in (("seam", seams), ("cut", cuts)):
        polygons[kind] = []
        for number, ring in enumerate(all_rings):
            if not LinearRing(ring).is_simple:
                faults.append(f"{file.name}: {kind} line {number} crosses itself")
            polygons[kind].append(Polygon(ring))
    # A hole is cut inside its seam line; a piece is cut outside it.
    gaps = []
    for seam in polygons["seam"]:
        outside = [cut for cut in polygons["cut"] if cut.contains(seam)]
        inside = [cut for cut in polygons["cut"] if seam.contains(cut) and cut.area > seam.area / 4]
        if not outside and not inside:
            faults.append(f"{file.name}: a seam line of {seam.area:.0f} mm2 has no cut line round it")
            continue
        nearest = min(outside + inside, key=lambda cut: abs(cut.area - seam.area))
        gaps.append(seam.exterior.distance(nearest.exterior))
    sizes = sorted(
        (math.ceil(round(p.bounds[2] - p.bounds[0], 2)), math.ceil(round(p.bounds[3] - p.bounds[1], 2)))
        for p in polygons["cut"]
        if not any(other is not p and other.contains(p) for other in polygons["cut"])
    )
    return gaps, sizes, sum(seam.length for seam in polygons["seam"])


def main():
    folder = Path(sys.argv[1])
    faults, gaps, length, count = [], [], 0.0, 0
    listed = {}
    with open(folder / "cut-list.csv", newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            size = (int(row["width_mm"]), int(row["height_mm"]))
            listed.setdefault(row["svg"], []).append(size)
    for file in sorted(folder.glob("*.svg")):
        own, sizes, seam_length = check(file, faults)
        gaps += own
        length += seam_length
        count += 1
        if any(
            abs(a - c) > 1 or abs(b - d) > 1
            for (a, b), (c, d) in zip(sizes, sorted(listed[file.name]), strict=True)
        ):
            faults.append(f"{file.name}: pieces of {sizes} mm, listed as {sorted(listed[file.name])}")
    for fault in faults:
        print(fault)
    print(f"shapely {shapely.__version__}: {count} drafts, {length / 1000:.1f} m of seam line;")
    print(f"seam to cut line {min(gaps):.2f} to {max(gaps):.2f} mm at their nearest; {len(faults)} faults")
    return 1 if faults or count == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
