"""Writes vectors.json beside itself. Debian's SciPy 1.10.1 and mpmath 1.2.1.

Noncentral t: SciPy's nct.cdf; where it is off, by cancellation or overflow, the
integral over the chi density in 40 digits (mpmath) stands instead. Both are
computed and the vector says which was kept.
"""
import json
import math
import os

import mpmath as mp
import numpy as np
import scipy
from scipy import integrate, optimize, stats

mp.mp.dps = 40
SCIPY = "SciPy " + scipy.__version__
out = []


def add(kind, inputs, expected, source=SCIPY):
    out.append({"kind": kind, "inputs": inputs, "expected": expected, "source": source})


def nct(t, nu, delta):
    log_c = mp.log(2) + mp.mpf(nu) / 2 * mp.log(mp.mpf(nu) / 2) - mp.loggamma(mp.mpf(nu) / 2)
    f = lambda w: mp.ncdf(t * w - delta) * mp.exp(log_c + (nu - 1) * mp.log(w) - nu * w * w / 2) if w > 0 else mp.mpf(0)
    s = 1 / math.sqrt(2 * nu)
    pts = [max(0, 1 + k * s) for k in (-30, -12, -6, -3, -1, 0, 1, 3, 6, 12, 30)] + [60]
    if t > 0:
        pts += [max(0, delta / t + k / t) for k in (-9, -3, 0, 3, 9)]
    pts = sorted(set(p for p in pts if 0 <= p <= 60))
    return float(mp.quad(f, pts))


for t, nu, delta in [(2, 4, 1.5), (-1, 6, 0.5), (0, 5, 1), (5.5, 9, 4.2), (12, 14, 8), (3, 2, -1), (0.3, 30, 0), (9.2, 19, 7.36),
                     (30, 99, 28), (36, 399, 35.5), (45, 599, 44), (60, 1199, 60), (165, 9999, 164.485), (170, 9999, 164.485),
                     (52, 12, 31), (80, 5, 40), (-2, 8, 31), (0.01, 3, 2.2)]:
    exact, quick = nct(t, nu, delta), float(stats.nct.cdf(t, nu, delta))
    close = abs(exact - quick) < 1e-12
    add("nct-cdf", {"t": t, "nu": nu, "delta": delta}, quick if close else exact, SCIPY if close else "mpmath 1.2.1, 40 digits")
for p, nu in [(0.975, 1), (0.975, 2), (0.975, 4), (0.975, 11.113482), (0.995, 16), (0.6, 3), (0.5000001, 7), (1e-6, 5), (0.9999, 250), (0.025, 30)]:
    add("t-quantile", {"p": p, "nu": nu}, float(stats.t.ppf(p, nu)))
for n, pr, c in [(3, .9, .9), (5, .95, .95), (8, .99, .95), (15, .95, .9), (43, .9, .99), (100, .95, .95), (500, .99, .99), (10000, .95, .95)]:
    d = stats.norm.ppf(pr) * math.sqrt(n)
    if n <= 100:
        add("k1", {"n": n, "proportion": pr, "confidence": c}, float(stats.nct.ppf(c, n - 1, d) / math.sqrt(n)))
    nu = n - 1

    def cover(k):
        def g(t):
            z = t / math.sqrt(n)
            r = optimize.brentq(lambda r: stats.norm.cdf(z + r) - stats.norm.cdf(z - r) - pr, 0, z + 9, xtol=1e-14)
            return 2 * stats.norm.pdf(t) * stats.chi2.sf(nu * r * r / k / k, nu)
        return integrate.quad(g, 0, 9, epsabs=1e-11, limit=200)[0] - c
    add("k2", {"n": n, "proportion": pr, "confidence": c}, float(optimize.brentq(cover, .5, 60, xtol=1e-10)))
rng = np.random.default_rng(4)
for name, x in [("normal", rng.normal(10, 1.5, 30)), ("exponential", rng.exponential(2, 40)), ("uniform", rng.uniform(0, 1, 100))]:
    x = [round(float(v), 4) for v in x]
    add("anderson", {"x": x, "name": name}, float(stats.anderson(x).statistic))
for mean, sd, lo, hi, alo, ahi, u in [(0, 1, -2, 2, -1.8, 1.8, .5), (1, 2, None, 4, None, 3.9, .05), (10, 1.5, 7, 13, 7.5, 12.5, .25)]:
    L, H = (-np.inf if lo is None else lo), (np.inf if hi is None else hi)
    A, B = (-np.inf if alo is None else alo), (np.inf if ahi is None else ahi)
    acc = lambda v: stats.norm.cdf((B - v) / u) - stats.norm.cdf((A - v) / u)
    g = lambda v: stats.norm.pdf(v, mean, sd)
    q = lambda f, a, b: integrate.quad(f, max(a, mean - 12 * sd), min(b, mean + 12 * sd), epsabs=1e-13, limit=500,
                                       points=[v for v in (A, B) if max(a, mean - 12 * sd) < v < min(b, mean + 12 * sd)] or None)[0]
    rc = (q(lambda v: g(v) * acc(v), H, np.inf) if H < np.inf else 0) + (q(lambda v: g(v) * acc(v), -np.inf, L) if L > -np.inf else 0)
    rp = q(lambda v: g(v) * (1 - acc(v)), L, H)
    add("global-risk", {"mean": mean, "sd": sd, "T": [lo, hi], "A": [alo, ahi], "u": u}, [rc, rp])
for N, n, D in [(64, 13, 6), (64, 13, 3), (64, 13, 1), (5000, 290, 50), (1000, 80, 10)]:
    add("detection", {"lot": N, "n": n, "defective": D}, float(stats.hypergeom.sf(0, N, D, n)))
with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "vectors.json"), "w") as f:
    f.write("[\n" + ",\n".join(json.dumps(v) for v in out) + "\n]\n")
for v in out:
    if v["kind"] == "nct-cdf":
        print(v["inputs"], v["expected"], v["source"])
