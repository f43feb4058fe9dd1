"""Sizes chosen by Handcall against other people's programs, and the test of distributions.

Needs numpy, scipy, scikit-learn and kmedoids from the Python package registry. Not part of the test
command; the probabilities recorded on 2026-11-25 with scipy 1.17.1 stand in
analysis/src/goodness.rs.

    cargo run --release -p analysis --example size_tables -- FOLDER
    python tests/outside/sizes.py FOLDER 0.10 0.10 0.05 0.05  # reductions: palm, wrist, thumb, fingers
"""

import csv
import math
import pathlib
import sys
from fractions import Fraction

import numpy as np
from scipy import stats

RESTARTS = 200
# As in analysis/src/sizing/misfit.rs and the default reductions of the draft, typed in again.
TIGHT_COST, TIGHT_ROOM, LOOSE_ROOM = 2.0, 0.10, 0.12
SHORT_FINGER, LONG_FINGER, SHORT_PALM, LONG_PALM = 4.0, 6.0, 5.0, 8.0


def distributions():
    """Kolmogorov and Smirnov's statistic: probabilities of scipy's exact distribution, and one whole
    test of the worked example of analysis/src/goodness.rs."""
    for n, d in [(5, 0.4), (10, 0.274), (28, 0.135), (28, 0.32), (100, 0.1), (400, 0.05), (1000, 0.03)]:
        print(f"KS n {n} distance {d}: {stats.kstwo.sf(d, n):.12f}")
    print(f"KS n 400 distance 0.05 in fractions: {in_fractions(400, 20):.12f}")
    values = [0.621, 0.503, 0.203, 0.477, 0.710, 0.581, 0.329, 0.480, 0.554, 0.382]
    test = stats.kstest(values, "uniform", method="exact")
    print(f"KS of ten values: distance {test.statistic:.12f}, p {test.pvalue:.12f}")


def in_fractions(n, steps):
    """Probability of a distance of at least steps / n, by Durbin's matrix in exact arithmetic."""
    m = 2 * (steps + 1) - 1
    entries = [[Fraction(int(i + 1 >= j)) for j in range(m)] for i in range(m)]
    for i in range(m):
        entries[i][0] -= 1
        entries[m - 1][i] -= 1
    entries[m - 1][0] += 1
    for i in range(m):
        for j in range(min(m, i + 1)):
            entries[i][j] /= math.factorial(i - j + 1)
    scale = math.lcm(*(x.denominator for row in entries for x in row))
    whole = [[int(x * scale) for x in row] for row in entries]
    row = [int(i == steps) for i in range(m)]
    for _ in range(n):
        row = [sum(row[i] * whole[i][j] for i in range(m)) for j in range(m)]
    return float(1 - Fraction(row[steps] * math.factorial(n), scale**n * n**n))


def medoids(folder, ours):
    """Totals over ours: best of 200 random starts of FasterPAM (kmedoids)."""
    import kmedoids

    worst = 0.0
    for (sample, sizes), (real, _) in sorted(ours.items()):
        table = np.fromfile(folder / f"table-{sample}.bin").reshape(500, 500)
        # FasterPAM wants rows of people, columns of sizes.
        distances = np.ascontiguousarray(table.T)
        best = min(
            kmedoids.fasterpam(distances, sizes, init="random", random_state=seed, max_iter=300).loss
            for seed in range(RESTARTS)
        )
        # The loss counts a medoid's own row as 0, as its own gloves do.
        worst = max(worst, real / best - 1)
        print(f"medoids sample {sample} sizes {sizes}: ours {real:.4f}, best of {RESTARTS} {best:.4f}, {100 * (real / best - 1):+.3f} %")
    print(f"medoids: at most {100 * worst:+.3f} % over the best of {RESTARTS} restarts")


def misfits(people, sizes):
    """Misfit of every person in sizes drafted for hands; the ease drops out of both."""
    total = np.zeros((len(people), len(sizes)))
    girths = [i for i in range(36) if i % 18 < 12]
    meant = np.array([MEANT[i % 18] for i in girths])
    for k, size in enumerate(sizes):
        # Glove girth g (1 - r), so extension = h / (g (1 - r)) - 1 = h (1 + e0) / g - 1.
        beyond = people[:, girths] * (1 + meant) / size[girths] - 1 - meant
        strain = np.where(beyond > 0, beyond / TIGHT_ROOM, beyond / LOOSE_ROOM)
        cost = np.sum(strain**2 * np.where(strain > 0, TIGHT_COST, 1.0), axis=1)
        for i in range(36):
            if i % 18 < 12:
                continue
            short, long = (SHORT_PALM, LONG_PALM) if i % 18 == 12 else (SHORT_FINGER, LONG_FINGER)
            apart = people[:, i] - size[i]
            strain = np.where(apart > 0, apart / short, apart / long)
            cost += strain**2 * np.where(strain > 0, TIGHT_COST, 1.0)
        total[:, k] = cost / 36
    return total


# Extension meant by zone: r / (1 - r) of the default reductions (palm, wrist, thumb twice, fingers).
REDUCTION = {"palm": None, "wrist": None, "thumb": None, "fingers": None}
MEANT = [0.0] * 18


def centres(folder, ours):
    """Totals of scikit-learn's k-means, 200 starts, on zones scaled by their rooms, in our misfit."""
    from sklearn.cluster import KMeans

    worst, check = -1.0, 0.0
    for (sample, sizes), (real, central) in sorted(ours.items()):
        people = np.loadtxt(folder / f"people-{sample}.csv", delimiter=",")
        if sizes == min(s for _, s in ours):
            table = np.fromfile(folder / f"table-{sample}.bin").reshape(500, 500)
            check = max(check, np.abs(misfits(people, people[:20]) - table[:20].T).max())
        middle = people.mean(axis=0)
        room = np.array([middle[i] * LOOSE_ROOM if i % 18 < 12 else LONG_PALM if i % 18 == 12 else LONG_FINGER for i in range(36)])
        found = KMeans(sizes, n_init=RESTARTS, random_state=1).fit(people / room)
        reference = misfits(people, found.cluster_centers_ * room).min(axis=1).sum()
        worst = max(worst, central / reference - 1)
        print(f"centres sample {sample} sizes {sizes}: ours {central:.4f}, k-means {reference:.4f}, {100 * (central / reference - 1):+.3f} %")
    print(f"centres: at most {100 * worst:+.3f} % over k-means; tables made again within {check:.1e}")


def main():
    distributions()
    if len(sys.argv) < 2:
        return
    folder = pathlib.Path(sys.argv[1])
    for zone, share in zip(["palm", "wrist", "thumb", "fingers"], map(float, sys.argv[2:6])):
        REDUCTION[zone] = share
    zones = ["palm", "wrist", "thumb", "thumb"] + ["fingers"] * 8
    for i, zone in enumerate(zones):
        share = REDUCTION[zone]
        MEANT[i] = share / (1 - share)
    ours = {
        (int(row["sample"]), int(row["sizes"])): (float(row["real_hands"]), float(row["centres"]))
        for row in csv.DictReader(open(folder / "ours.csv"))
    }
    medoids(folder, ours)
    centres(folder, ours)


main()
