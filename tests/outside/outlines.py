"""Checks the drafts' outlines with shapely (GEOS), a geometry library that shares no code with ours.

    cargo run -p analysis --example draft_paths | python3 tests/outside/outlines.py

Needs `pip install shapely`. Every outline is sampled here from its path text, 400 points a cubic.
Checked: lengths and areas within 1 in 10,000 of ours, outlines valid (closed, not crossing
themselves), cut line outside seam line, and the distance between the two: the allowance, less the
0.3 mm of a blade where two fingers of an open finish share one slot; the thumb hole lies inside its
seam line and keeps the whole allowance.

Seen with shapely 2.2.0 (GEOS 3.14.1), 2026-11-25: 448 outlines of 192 pieces (two layers, pairs, pairs
with quirks, forks; full and open tips; 1st to 99th percentile); largest difference in length 6.6e-07,
in area 2.7e-06; least distance less the allowance -0.303 mm (open tips share a slot), round the thumb
hole -0.004 mm.
"""
import re
import sys

from shapely import Point, Polygon

STEPS = 400


def points(path):
    numbers = re.findall(r"[MLCZ]|-?\d+(?:\.\d+)?(?:e-?\d+)?", path)
    result, i, command = [], 0, "M"
    while i < len(numbers):
        if numbers[i] in "MLCZ":
            command = numbers[i]
            i += 1
            if command == "Z":
                continue
        count = 6 if command == "C" else 2
        values = [float(v) for v in numbers[i:i + count]]
        i += count
        if count == 2:
            result.append((values[0], values[1]))
            continue
        x0, y0 = result[-1]
        x1, y1, x2, y2, x3, y3 = values
        for n in range(1, STEPS + 1):
            t = n / STEPS
            s = 1 - t
            a, b, c, d = s**3, 3 * s * s * t, 3 * s * t * t, t**3
            result.append((a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3))
    return result


def main():
    outlines = {}
    worst_length = worst_area = 0.0
    least_allowance = least_hole = 1e9
    count = 0
    for line in sys.stdin:
        draft, piece, *rest = line.rstrip("\n").split("\t")
        if piece == "refused":
            raise SystemExit(f"{draft}: refused")
        layer, allowance, length, area, path = rest
        polygon = Polygon(points(path))
        count += 1
        if not polygon.is_valid:
            raise SystemExit(f"{draft}, {piece}, {layer}: not a simple outline")
        length, area = float(length), float(area)
        worst_length = max(worst_length, abs(polygon.length / length - 1))
        worst_area = max(worst_area, abs(polygon.area / area - 1))
        outlines.setdefault((draft, piece), {}).setdefault(layer, []).append(polygon)
        outlines[(draft, piece)]["allowance"] = float(allowance)
    for (draft, piece), layers in outlines.items():
        seam, cut = layers["Seam"][0], layers["Cut"][0]
        if seam.difference(cut).area > 1e-6:
            raise SystemExit(f"{draft}, {piece}: the seam line leaves the cut line")
        boundary = cut.exterior
        distances = sorted(boundary.distance(Point(p)) for p in seam.exterior.coords)
        least_allowance = min(least_allowance, distances[0] - layers["allowance"])
        for hole, round_hole in zip(layers.get("Hole", []), layers["Seam"][1:]):
            left = hole.exterior.distance(round_hole.exterior) - layers["allowance"]
            least_hole = min(least_hole, left)
            if not round_hole.contains(hole):
                raise SystemExit(f"{draft}, {piece}: the hole leaves its seam line")
    print(f"{count} outlines of {len(outlines)} pieces")
    print(f"largest difference in length {worst_length:.2e}, in area {worst_area:.2e}")
    print(f"least distance of cut and seam line less the allowance {least_allowance:.3f} mm")
    print(f"the same round the thumb hole {least_hole:.3f} mm")
    if worst_length > 1e-4 or worst_area > 1e-4:
        raise SystemExit("lengths or areas differ")
    if least_hole < -0.01:
        raise SystemExit("a thumb hole is cut too near its seam line")
    if least_allowance < -0.35:
        raise SystemExit("a cut line comes too near its seam line")


main()
