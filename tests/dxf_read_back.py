#!/usr/bin/env python3
"""Reads a DXF of ours with ezdxf, an independent reader, and prints what it finds as JSON:
for each block its layers, the length of its lines by layer, the area inside its boundary, and how
many notches it has; for each inserted block where its boundary lies. `pip install ezdxf` (MIT) first."""
import json
import sys

import ezdxf


def length(points, closed):
    pairs = list(zip(points, points[1:] + (points[:1] if closed else [])))
    return sum((a - b).magnitude for a, b in pairs)


def area(points):
    doubled = sum(a.x * b.y - b.x * a.y for a, b in zip(points, points[1:] + points[:1]))
    return abs(doubled) / 2


def placed(insert):
    """The boundary of a block where it is inserted: its corners, and the area inside."""
    lines = [list(e.points()) for e in insert.virtual_entities()
             if e.dxftype() == "POLYLINE" and e.dxf.layer == "1"]
    points = [point for line in lines for point in line]
    xs, ys = [p.x for p in points], [p.y for p in points]
    return {"name": insert.dxf.name, "turned": insert.dxf.rotation,
            "box": [min(xs), min(ys), max(xs), max(ys)], "area": sum(area(line) for line in lines),
            "boundary": [[p.x, p.y] for p in points]}


document = ezdxf.readfile(sys.argv[1])
audit = document.audit()
found = {"errors": [str(error.message) for error in audit.errors], "units": document.units,
         "inserts": [insert.dxf.name for insert in document.modelspace().query("INSERT")],
         "placed": [placed(insert) for insert in document.modelspace().query("INSERT")],
         "blocks": {}}
for block in document.blocks:
    if block.name.startswith("*") or not len(block):
        continue
    lengths, boundary, notches = {}, 0.0, 0
    for entity in block:
        layer = entity.dxf.layer
        if entity.dxftype() == "POLYLINE":
            points = list(entity.points())
            lengths[layer] = lengths.get(layer, 0.0) + length(points, entity.is_closed)
            if layer == "1":
                boundary += area(points)
        elif entity.dxftype() == "LINE":
            lengths[layer] = lengths.get(layer, 0.0) + (entity.dxf.end - entity.dxf.start).magnitude
        elif entity.dxftype() == "POINT" and layer == "4":
            notches += 1
    texts = [entity.dxf.text for entity in block.query("TEXT")]
    found["blocks"][block.name] = {"lengths": lengths, "area": boundary, "notches": notches,
                                   "texts": texts}
print(json.dumps(found))
