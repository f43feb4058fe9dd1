#!/usr/bin/env python3
"""The fabric's memory against statsmodels MixedLM on the same data.

    python3 -m venv /tmp/outside && /tmp/outside/bin/pip install statsmodels
    /tmp/outside/bin/python tests/outside/fabric_memory.py > analysis/tests/figures/statsmodels.in

The data come from the generator of analysis/tests/fitting_memory.rs (SplitMix64 and Box-Muller,
written again here). The model: y = zone + performer in zone + error, restricted maximum likelihood.
Not part of the test command; the figures it printed are, and name their version.
"""

import math
import sys

import numpy
import scipy
import statsmodels
from statsmodels.regression.mixed_linear_model import MixedLM

CASES = [(1, 0.02, 0.015), (2, 0.03, 0.01), (3, 0.01, 0.02)]
MASK = 2**64 - 1


class Deviates:
    def __init__(self, seed):
        self.state = seed

    def bits(self):
        self.state = (self.state + 0x9E3779B97F4A7C15) & MASK
        z = self.state
        z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & MASK
        z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & MASK
        return z ^ (z >> 31)

    def uniform(self):
        return ((self.bits() >> 11) + 0.5) / 2**53

    def below(self, n):
        return min(int(self.uniform() * n), n - 1)

    def normal(self):
        r = math.sqrt(-2.0 * math.log(self.uniform()))
        return r * math.cos(2.0 * math.pi * self.uniform())


def data(seed, between, within):
    random = Deviates(seed)
    y, zone, group = [], [], []
    for k in range(12):
        for performer in range(18):
            count = 1 + random.below(4)
            liking = between * random.normal()
            for _ in range(count):
                y.append(0.004 * (k - 5.0) + liking + within * random.normal())
                zone.append(k)
                group.append(k * 18 + performer)
    return numpy.array(y), numpy.eye(12)[zone], numpy.array(group)


def main():
    versions = f"statsmodels {statsmodels.__version__}, scipy {scipy.__version__}, numpy {numpy.__version__}"
    print(f"// {versions}; made by tests/outside/fabric_memory.py\n&[")
    for seed, between, within in CASES:
        y, exog, group = data(seed, between, within)
        # Shares of a girth are small; percents suit the optimiser's stopping rule.
        fit = MixedLM(100 * y, exog, groups=group).fit(reml=True, method=["bfgs", "cg"], gtol=1e-9, maxiter=2000)
        print(f"converged {fit.converged}, {len(y)} answers", file=sys.stderr)
        effects = ", ".join(f"{e / 100:.10}" for e in fit.fe_params)
        print(f"    ({seed}, {between}, {within}, {fit.cov_re[0][0] / 1e4:.10}, {fit.scale / 1e4:.10}, [{effects}]),")
    print("]")


if __name__ == "__main__":
    main()
