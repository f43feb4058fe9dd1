"""Figures of measurers by other people's software, for analysis/tests/observers.rs.

Needs numpy and scipy from the Python package registry. Not part of the test command: the figures
recorded there were printed on 2026-11-25 with scipy 1.17.1 and numpy 2.4.6.

    python tests/outside/measurers.py
"""

import numpy as np
import scipy
from scipy import stats

# Bland and Altman 1986, peak flow of 17 people, each of two meters read twice (from memory of the
# paper; the published figures come out).
FIRST = np.array([
    (494, 490), (395, 397), (516, 512), (434, 401), (476, 470), (557, 611), (413, 415), (442, 431),
    (650, 638), (433, 429), (417, 420), (656, 633), (267, 275), (478, 492), (178, 165), (423, 372),
    (427, 421),
])
SECOND = np.array([
    (512, 525), (430, 415), (520, 508), (428, 444), (500, 500), (600, 625), (364, 460), (380, 390),
    (658, 642), (445, 432), (432, 420), (626, 605), (260, 227), (477, 467), (259, 268), (350, 370),
    (451, 443),
])

print("scipy", scipy.__version__, "numpy", np.__version__)
for name, pairs in (("first", FIRST), ("second", SECOND)):
    difference = pairs[:, 0] - pairs[:, 1]
    n = len(pairs)
    tem = np.sqrt((difference**2).sum() / (2 * n))
    # One-way analysis of variance: the mean square within is TEM squared, and reliability against
    # the readings' own variance is the intraclass correlation.
    within = stats.f_oneway(*pairs)
    between = 2 * pairs.mean(axis=1).var(ddof=1)
    square = (pairs.var(axis=1, ddof=1)).mean()
    icc = (between - square) / (between + square)
    total = (between + square) / 2
    print(name, "SD of differences about zero", round(np.sqrt((difference**2).mean()), 2),
          "TEM", round(tem, 4), "relative %", round(100 * tem / pairs.mean(), 4),
          "reliability", round(1 - tem**2 / total, 6), "= ICC(1)", round(icc, 6),
          "= from F", round((within.statistic - 1) / (within.statistic + 1), 6))
counts = [19, 1] + [10] * 8
found = stats.chisquare(counts)
print("digits", counts, "chi-squared", found.statistic, "p", repr(float(found.pvalue)))
