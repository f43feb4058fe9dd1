#!/usr/bin/env python3
"""Makes the invented company's readings: roster.csv and planted.csv.

Nobody in these files exists. Each hand is drawn from a fixed seed with published means:

* hand length, breadth, girth, wrist girth, joint girths of women and men, and web heights:
  Greiner (1991), Hand Anthropometry of US Army Personnel, NATICK/TR-92/011;
* palm and finger lengths as shares of hand length: Hsiao, Whitestone, Kau, Hildreth (2015),
  Human Factors 57(8), Table 2 (hand length = palm length + middle finger length);
* women's end-joint girths of ring and little finger: the men's end joint / knuckle ratio;
* girth over the thumb: 1.21 times hand girth (assumed, from men's surveys of the 1960s against
  Greiner's girth); girth of the thumb's root: 1.30 times the thumb's knuckle girth (assumed).

Spread (assumed, near the published coefficients of variation): one factor for size, one for
girth against length, one for finger length against palm, then a little for each dimension, each
side and each reading. It is deliberately not the product's own model: a company drawn from that
model could not show where the model is wrong.

Run it with no argument and it writes beside itself, or give it another folder. The same seed
gives the same bytes.
"""

import csv
import math
import random
import sys
from pathlib import Path

OUT = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent
SEED = 20240311

# Dimension: (mean of women, mean of men, mm).
GREINER = {
    "hand_length": (180.7, 194.1),
    "hand_breadth": (79.5, 90.4),
    "hand_girth": (186.5, 213.3),
    "wrist_girth": (151.4, 174.3),
    "thumb_knuckle_girth": (63.0, 72.3),
    "index_knuckle_girth": (61.2, 68.4),
    "middle_knuckle_girth": (61.3, 69.6),
    "ring_knuckle_girth": (57.4, 64.9),
    "little_knuckle_girth": (50.6, 57.8),
    "index_tip_girth": (50.8, 57.4),
    "middle_tip_girth": (50.9, 57.8),
    "ring_tip_girth": (57.4 * 53.8 / 64.9, 53.8),
    "little_tip_girth": (50.6 * 49.2 / 57.8, 49.2),
    "thumb_web_height": (62.8, 69.1),
    "index_middle_web_height": (100.5, 110.4),
    "middle_ring_web_height": (100.3, 109.9),
    "ring_little_web_height": (87.9, 96.6),
}
# Share of hand length (women, men): Hsiao 2015, Table 2, over its hand lengths 182.7 and 197.6.
HSIAO = {
    "thumb_length": (64.8 / 182.7, 70.8 / 197.6),
    "index_length": (71.3 / 182.7, 75.8 / 197.6),
    "middle_length": (78.6 / 182.7, 83.8 / 197.6),
    "ring_length": (74.0 / 182.7, 79.6 / 197.6),
    "little_length": (60.4 / 182.7, 65.2 / 197.6),
}
OVER_THUMB_TO_GIRTH = 1.21
ROOT_TO_THUMB_KNUCKLE = 1.30

DIMENSIONS = [
    "hand_length", "palm_length", "hand_breadth", "hand_girth", "hand_girth_over_thumb",
    "wrist_girth", "thumb_length", "index_length", "middle_length", "ring_length",
    "little_length", "thumb_knuckle_girth", "index_knuckle_girth", "middle_knuckle_girth",
    "ring_knuckle_girth", "little_knuckle_girth", "index_tip_girth", "middle_tip_girth",
    "ring_tip_girth", "little_tip_girth", "thumb_web_height", "index_middle_web_height",
    "middle_ring_web_height", "ring_little_web_height", "thumb_root_girth",
]
FINGERS = ["thumb_length", "index_length", "middle_length", "ring_length", "little_length"]
WEBS = [d for d in DIMENSIONS if d.endswith("_web_height")]
SHORT_LIST = ["hand_length", "hand_girth", "wrist_girth", "middle_length", "thumb_length"]
# Taken twice of a few performers, in columns of their own.
REPEATED = ["hand_girth", "wrist_girth"]
EIGHT = SHORT_LIST + ["hand_breadth", "index_knuckle_girth", "little_length"]

# Code, name, reference, sex drawn, what was measured of (right, left). "all" is all 25, a number
# is the first so many of DIMENSIONS, a list is itself. Names are invented, some of them awkward
# on purpose.
COMPANY = [
    ("TW01", "Ines Calloway", "women", "F", "all", "all"),
    ("TW02", "Bram Oyelaran", "men", "M", "all", "all"),
    ("TW03", "Maren Duskwater", "women", "F", "all", "all"),
    ("TW04", "Tobias Achterberg-Quill", "men", "M", "all", EIGHT),
    ("TW05", "Nuala O\u2019Farrell", "women", "F", 20, 20),
    ("TW06", "S\u00f8ren Vinterhav", "men", "M", 20, SHORT_LIST),
    ("TW07", "Zdzis\u0142awa Ferenc", "women", "F", "all", "all"),
    ("TW08", "Kofi Marchbanks", "men", "M", "all", "all"),
    ("TW09", "Aoife Trelawney", "women", "F", "all", SHORT_LIST),
    ("TW10", "Rafael Dunmore", "men", "M", "all", "all"),
    ("TW11", "Linnea Haugabrook", "women", "F", "all", "all"),
    ("TW12", "Jos\u00e9 Ib\u00e1\u00f1ez-Locke", "men", "M", "all", "all"),
    ("TW13", "Petra Swansbury", "women", "F", 15, EIGHT),
    ("TW14", "Emeka Holloway", "men", "M", "all", "all"),
    ("TW15", "Yuki Ravensdale", "women", "F", "all", "all"),
    ("TW16", "Dmitri Longacre", "adults", "M", "all", "all"),
    ("TW17", "Salome Pickersgill", "adults", "F", "all", "all"),
    ("TW18", "Wren Abernathy", "adults", "F", EIGHT, EIGHT),
    ("TW19", "Caspian Underhill", "adults", "M", SHORT_LIST, []),
    ("TW20", "Odile Marchetti", "women", "F", EIGHT, []),
    ("TW21", "Hamish Strand", "men", "M", [], EIGHT),
    ("TW22", "Fenella Brightwater", "women", "F", ["hand_length", "hand_girth"], []),
    ("TW23", "Ignatius Moorcroft", "men", "M", ["hand_length"], []),
    ("TW24", "Beatrix Vandersloot", "women", "F", "all", 20),
    ("TW25", "Ansel Thistlewood", "adults", "M", ["hand_length", "hand_girth"], ["hand_length"]),
    ("TW26", "Marguerite-Anneliese de la Fontaine-Whitcombe", "women", "F", 20, EIGHT),
    ("TW27", "Oskar Blytheway", "men", "M", "all", "all"),
    ("TW28", "Philippa Crane", "women", "F", "all", "all"),
]
FABRICS = ["TIDE", "KELP", "FOAM", "SALT"]

# Ten performers are called together, in the order of the roster.
CALLS = ["morning", "afternoon", "aerialists"]


def draw_hand(rng, sex):
    """True measures of both hands of one invented person, mm."""
    who = 0 if sex == "F" else 1
    # Log-scale factors; their spreads give CVs of about 5 % for lengths and 4.6 % for girths.
    size = rng.gauss(0, 0.040)
    stout = rng.gauss(0, 0.026)
    fingers = rng.gauss(0, 0.014)
    girth_over_thumb = OVER_THUMB_TO_GIRTH * math.exp(rng.gauss(0, 0.015))
    root = ROOT_TO_THUMB_KNUCKLE * math.exp(rng.gauss(0, 0.02))
    own = {d: rng.gauss(0, 0.014) for d in DIMENSIONS}
    length = GREINER["hand_length"][who] * math.exp(size + rng.gauss(0, 0.022))
    hands = {}
    for side in ("right", "left"):
        tilt = {d: own[d] + rng.gauss(0, 0.004) for d in DIMENSIONS}
        hand = {"hand_length": length * math.exp(rng.gauss(0, 0.004))}
        for d in FINGERS:
            hand[d] = HSIAO[d][who] * hand["hand_length"] * math.exp(fingers + tilt[d])
        hand["palm_length"] = hand["hand_length"] - hand["middle_length"]
        palm_mean = GREINER["hand_length"][who] * (1 - HSIAO["middle_length"][who])
        for d in WEBS:
            hand[d] = GREINER[d][who] * hand["palm_length"] / palm_mean * math.exp(tilt[d])
        girth_scale = size + stout
        for d, means in GREINER.items():
            if d not in hand:
                hand[d] = means[who] * math.exp(girth_scale + tilt[d])
        hand["hand_girth_over_thumb"] = hand["hand_girth"] * girth_over_thumb
        hand["thumb_root_girth"] = hand["thumb_knuckle_girth"] * root
        hands[side] = hand
    return hands


def reading(rng, dimension, true_mm):
    """One reading to the whole millimetre, with a measurer's error (assumed: a ruler 0.6 mm, a
    tape round a joint 0.7 mm, a tape round the hand or a height above the crease 1.2 mm)."""
    if dimension in FINGERS or dimension in ("hand_length", "palm_length", "hand_breadth"):
        error = 0.6
    elif dimension.endswith(("_knuckle_girth", "_tip_girth")):
        error = 0.7
    else:
        error = 1.2
    return round(true_mm + rng.gauss(0, error))


def measured(spec):
    if spec == "all":
        return DIMENSIONS
    if isinstance(spec, int):
        return DIMENSIONS[:spec]
    return spec


def plant(values, repeats):
    """Puts the slips in. `values[code][side][dimension]` is a number; what is typed is text."""
    planted = []

    def typed(code, side, dimension, kind, text, true=None):
        true = values[code][side][dimension] if true is None else true
        values[code][side][dimension] = text
        planted.append((code, side, dimension, kind, true, text))

    def mm(code, side, dimension):
        return values[code][side][dimension]

    typed("TW01", "right", "hand_girth", "centimetres typed as millimetres",
          f"{mm('TW01', 'right', 'hand_girth') / 10:.1f}")
    typed("TW02", "left", "wrist_girth", "inches typed as millimetres",
          f"{round(mm('TW02', 'left', 'wrist_girth') / 25.4 * 8) / 8:g}")
    typed("TW03", "right", "ring_length", "ten times too large",
          str(mm("TW03", "right", "ring_length") * 10))
    typed("TW07", "right", "palm_length", "digits swapped", swap_last_two(mm("TW07", "right", "palm_length")))
    typed("TW08", "left", "hand_length", "tape read from the 10 cm mark",
          str(mm("TW08", "left", "hand_length") + 100))
    ring, little = mm("TW10", "right", "ring_length"), mm("TW10", "right", "little_length")
    typed("TW10", "right", "ring_length", "neighbouring fields swapped", str(little))
    typed("TW10", "right", "little_length", "neighbouring fields swapped", str(ring))
    typed("TW11", "left", "palm_length", "identity broken (palm to the wrong crease)",
          str(mm("TW11", "left", "palm_length") + 11))
    typed("TW12", "right", "hand_girth", "breadth typed for girth", str(mm("TW12", "right", "hand_breadth")))
    for dimension in DIMENSIONS:
        typed("TW14", "left", dimension, "whole hand in centimetres",
              f"{mm('TW14', 'left', dimension) / 10:.1f}")
    for side in ("right", "left"):
        values["TW15"][side]["wrist_girth"] += 7 if side == "right" else -7
    right, left = mm("TW15", "right", "wrist_girth"), mm("TW15", "left", "wrist_girth")
    # One wrist of TW15 really is thicker than the other by 14 mm (a healed break, in this tale),
    # and its two readings stand under the wrong sides. Values alone show that the sides differ,
    # not which is which.
    typed("TW15", "right", "wrist_girth", "sides swapped", str(left))
    typed("TW15", "left", "wrist_girth", "sides swapped", str(right))
    repeats["TW16", "hand_girth"] = mm("TW16", "right", "hand_girth") + 17
    planted.append(("TW16", "right", "hand_girth", "repeats disagree",
                    mm("TW16", "right", "hand_girth"), repeats["TW16", "hand_girth"]))
    typed("TW17", "right", "index_knuckle_girth", "neighbouring fields swapped",
          str(mm("TW17", "right", "index_tip_girth")), mm("TW17", "right", "index_knuckle_girth"))
    typed("TW17", "right", "index_tip_girth", "neighbouring fields swapped",
          str(planted[-1][4]))
    typed("TW28", "left", "wrist_girth", "tape round the wrong place (over the hand)",
          str(mm("TW28", "left", "wrist_girth") + 70))
    return planted


def swap_last_two(value):
    text = str(value)
    return text[:-2] + text[-1] + text[-2]


def main():
    rng = random.Random(SEED)
    values, repeats = {}, {}
    for code, _, _, sex, right, left in COMPANY:
        hands = draw_hand(rng, sex)
        values[code] = {
            side: {d: reading(rng, d, hands[side][d]) for d in measured(spec)}
            for side, spec in (("right", right), ("left", left))
        }
        # Honest repeats: a second reading of the girths of a few performers.
        if code in ("TW05", "TW06", "TW24", "TW27"):
            for d in REPEATED:
                repeats[code, d] = reading(rng, d, hands["right"][d])
    planted = plant(values, repeats)

    header = ["code", "name", "reference", "fabric", "call"]
    header += [f"{side}_{d}" for side in ("right", "left") for d in DIMENSIONS]
    header += [f"right_{d}_2" for d in REPEATED]
    rows = []
    for at, (code, name, reference, *_) in enumerate(COMPANY):
        row = [code, name, reference, FABRICS[at % len(FABRICS)], CALLS[at // 10]]
        row += [values[code][side].get(d, "") for side in ("right", "left") for d in DIMENSIONS]
        row += [repeats.get((code, d), "") for d in REPEATED]
        rows.append(row)
    write("roster.csv", header, rows)
    write("planted.csv", ["code", "side", "dimension", "kind", "true_mm", "typed"], planted)


def write(name, header, rows):
    with open(OUT / name, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


if __name__ == "__main__":
    main()
