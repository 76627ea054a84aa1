# Generates extreme-arguments.json: run  python3 extreme-arguments.gen.py > extreme-arguments.json
# Needs mpmath 1.3. Every value at 40 digits or by exact fractions, from the definition, without the code that is tested.
import json, sys
from fractions import Fraction
from math import comb
import mpmath
from mpmath import mp, mpf

mp.dps = 40
cases = {}
# Sections can be computed apart: python3 extreme-arguments.gen.py beta pearson
WANTED = set(sys.argv[1:])
wanted = lambda section: not WANTED or section in WANTED


def text(value):
    return float(value) if abs(value) > mpf("1e-305") or value == 0 else 0.0


def add(name, args, **expected):
    cases.setdefault(name, []).append({"args": [float(a) for a in args], **{k: text(v) for k, v in expected.items()}})


# hypergeometric: exact fractions
for lot, marked, drawn, ks in [
    (10000, 500, 500, [0, 1, 5, 20, 25, 30, 60, 100, 315, 499]),
    (50, 5, 13, [0, 1, 2, 5]), (500, 250, 250, [60, 100, 125, 150, 200]), (2000, 1999, 3, [2]), (2000, 1, 1000, [0]),
    (100000, 300, 2000, [0, 2, 6, 12, 40]), (1000, 990, 500, [490, 493, 495, 499]),
] if wanted("hypergeometric") else []:
    total = comb(lot, drawn)
    pmf = [Fraction(comb(marked, j) * comb(lot - marked, drawn - j), total) if 0 <= drawn - j <= lot - marked else Fraction(0) for j in range(0, min(marked, drawn) + 1)]
    for k in ks:
        q = lambda f: mpf(f.numerator) / mpf(f.denominator)
        add("hypergeometric", (k, lot, marked, drawn), pmf=q(pmf[k]), cdf=q(sum(pmf[: k + 1])), sf=q(sum(pmf[k + 1 :])))


# incomplete beta by quadrature of the density about its peak, each side apart
def beta_tails(x, a, b):
    x, a, b = mpf(x), mpf(a), mpf(b)
    n = a + b
    log_constant = mpmath.loggamma(n) - mpmath.loggamma(a) - mpmath.loggamma(b)
    density = lambda t: mpmath.exp((a - 1) * mpmath.log(t) + (b - 1) * mpmath.log1p(-t) + log_constant)
    mean, sd = a / n, mpmath.sqrt(a * b / (n * n * (n + 1)))
    low = [max(mpf(0), x - k * sd) for k in (200, 100, 60, 40, 25, 15, 10, 6, 3, 1.5, 0.7, 0.4, 0.2, 0.1, 0.05, 0.02)] + [x]
    high = [x] + [min(mpf(1), x + k * sd) for k in (0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 1.5, 3, 6, 10, 15, 25, 40, 60, 100, 200)]
    inside = lambda points: sorted(set([p for p in points] + [p for p in (mean, mean - sd, mean + sd, mean - 3 * sd, mean + 3 * sd) if points[0] < p < points[-1]]))
    return mpmath.quad(density, inside(low)), mpmath.quad(density, inside(high))


# positive series of the incomplete beta function, for a tail far from the mean
def beta_series(x, a, b):
    x, a, b = mpf(x), mpf(a), mpf(b)
    term, total, k = mpf(1), mpf(0), 0
    while term > total * mpf(10) ** -30:
        total += term
        term *= (a + b + k) / (a + 1 + k) * x
        k += 1
    log_factor = a * mpmath.log(x) + b * mpmath.log1p(-x) + mpmath.loggamma(a + b) - mpmath.loggamma(a) - mpmath.loggamma(b)
    return mpmath.exp(log_factor) / a * total


for a, b in [(1e3, 2e3), (1e6, 1e6), (1e6, 30.5), (3e8, 1e8), (1e10, 1e10), (5e9, 2.5), (40, 1e9)] if wanted("beta") else []:
    n = a + b
    mean, sd = a / n, (a * b / (n * n * (n + 1))) ** 0.5
    for z in [-30, -8, -3, -0.5, 0, 1e-3, 1, 4, 12]:
        x = mean + z * sd
        if not 0 < x < 1:
            continue
        if abs(z) < 6:
            lower, upper = beta_tails(x, a, b)
        elif z < 0:
            lower = beta_series(x, a, b)
            upper = 1 - lower
        else:
            upper = beta_series(1 - mpf(x), b, a)
            lower = 1 - upper
        add("beta", (x, a, b), cdf=lower, sf=upper)
for x, a, b in [(1e-300, 0.01, 3), (1e-10, 0.5, 0.5), (0.3, 1e-3, 1e-3), (1 - 2**-40, 0.2, 0.1), (0.999, 2, 0.01), (0.5, 0.1, 200), (1e-5, 3, 1e4)] if wanted("beta") else []:
    total = mpmath.betainc(a, b, 0, mpf(x), regularized=True)
    add("beta", (x, a, b), cdf=total, sf=1 - total if total < 0.5 else mpmath.betainc(b, a, 0, 1 - mpf(x), regularized=True))


# Student's t from its definition; the argument is the quantile of the tail
def t_sf(x, df):
    x, df = mpf(x), mpf(df)
    return mpmath.betainc(df / 2, mpf(1) / 2, 0, df / (df + x * x), regularized=True) / 2


for df in [0.1, 0.5, 1, 2, 3, 5.5, 30, 200, 4000] if wanted("t") else []:
    for x in [1e-12, 1e-7, 1e-4, 0.01, 0.3, 1, 4, 40, 1e5]:
        # the part between 0 and x keeps the digits near the median
        half = mpmath.betainc(mpf(1) / 2, mpf(df) / 2, 0, mpf(x) ** 2 / (df + mpf(x) ** 2), regularized=True) / 2
        add("t", (x, df), cdf=mpf(1) / 2 + half, sf=t_sf(x, df), half=half)


# Student's t quantile of exact doubles near the median
for df in [0.5, 1, 3, 30, 4000] if wanted("t") else []:
    for p in [0.5 + 2**-45, 0.5 - 2**-30, 0.5 + 2**-20, 0.4999, 0.51, 0.3, 0.2, 1e-3, 1e-12]:
        goal = abs(mpf(p) - mpf(1) / 2) * 2
        inside = lambda x: mpmath.betainc(mpf(1) / 2, mpf(df) / 2, 0, x * x / (df + x * x), regularized=True)
        start = goal * mpmath.sqrt(mpf(df)) * mpmath.beta(mpf(1) / 2, mpf(df) / 2) / 2
        if p < 0.25:
            outside = lambda u: mpmath.log(mpmath.betainc(mpf(df) / 2, mpf(1) / 2, 0, df / (df + mpmath.exp(2 * u)), regularized=True) / (2 * mpf(p)))
            x = mpmath.exp(mpmath.findroot(outside, (mpf(0), mpf(-mpmath.log(p)) / df + 2), solver="anderson", tol=1e-30, maxsteps=200))
        else:
            x = mpmath.findroot(lambda x: inside(x) / goal - 1, (start, start * mpf("1.5")), solver="anderson", tol=1e-30, maxsteps=200)
        add("tQuantile", (p, df), x=x if p > 0.5 else -x)


# Noncentral t: trapezoidal rule of fine step over v = ln sqrt(chi^2 / df), both tails
def noncentral_t(t, df, delta):
    t, df, delta = mpf(t), mpf(df), mpf(delta)
    constant = mpmath.log(2) + df / 2 * mpmath.log(df / 2) - mpmath.loggamma(df / 2)
    step = mpf(1) / 32
    lower = upper = mpf(0)
    v = mpf(3)
    while v > -55 / df - 5:
        density = mpmath.exp(constant + df * (v - mpmath.exp(2 * v) / 2))
        z = t * mpmath.exp(v) - delta
        lower += density * mpmath.ncdf(z)
        upper += density * mpmath.ncdf(-z)
        v -= step
    return lower * step, upper * step


mp.dps = 30
for df in [0.5, 1, 2, 5] if wanted("noncentralT") else []:
    for t, delta in [(0.001, 0), (0.5, 1), (1, 3), (3, 1), (-1, 1), (5, 5), (1, 12), (60, 12), (1000, 3)]:
        lower, upper = noncentral_t(t, df, delta)
        if abs(lower + upper - 1) > mpf("1e-18"):
            print("noncentral t not settled", t, df, delta, lower + upper, file=sys.stderr)
            continue
        add("noncentralT", (t, df, delta), cdf=lower, sf=upper)
mp.dps = 40


# Pearson curve: quantile by integrating f'/f = -(x + c1) / (c0 + c1 x + c2 x^2), tails by quadrature
def pearson_p(x, skew, excess):
    skew, excess, x = mpf(skew), mpf(excess), mpf(x)
    kurtosis = excess + 3
    scale = 10 * kurtosis - 12 * skew**2 - 18
    c0 = (4 * kurtosis - 3 * skew**2) / scale
    c1 = skew * (kurtosis + 3) / scale
    c2 = (2 * kurtosis - 3 * skew**2 - 6) / scale
    # ln f from 0 in closed form: partial fractions over the two roots, complex ones too
    if c2 == 0 and c1 == 0:
        log_f = lambda u: -u * u / 2 / c0
    elif c2 == 0:
        log_f = lambda u: -u / c1 + (c0 / c1**2 - 1) * mpmath.log1p(c1 * u / c0)
    else:
        spread = mpmath.sqrt(mpmath.mpc(c1 * c1 - 4 * c0 * c2))
        r1, r2 = (-c1 - spread) / (2 * c2), (-c1 + spread) / (2 * c2)
        if abs(spread) < mpf("1e-25"):
            raise ValueError("double root")
        log_f = lambda u: (
            -(r1 + c1) / (c2 * (r1 - r2)) * mpmath.log(1 - u / r1) - (r2 + c1) / (c2 * (r2 - r1)) * mpmath.log(1 - u / r2)
        ).real
    # support where the quadratic is positive around 0
    roots = []
    if c2 != 0:
        disc = c1 * c1 - 4 * c0 * c2
        if disc >= 0:
            roots = [(-c1 - mpmath.sqrt(disc)) / (2 * c2), (-c1 + mpmath.sqrt(disc)) / (2 * c2)]
    elif c1 != 0:
        roots = [-c0 / c1]
    low = max([r for r in roots if r < 0] + [mpf(-14)])
    high = min([r for r in roots if r > 0] + [mpf(14)])
    nodes = lambda a, b: [a + (b - a) * mpf(k) / 6 for k in range(7)]
    f = lambda u: mpmath.exp(log_f(u))
    below, above = mpmath.quad(f, nodes(low, x), maxdegree=5), mpmath.quad(f, nodes(x, high), maxdegree=5)
    return below / (below + above), above / (below + above)


mp.dps = 50
for skew, excess in [(0, 0), (1e-9, 0), (1e-6, 0), (1e-4, 0), (1e-3, 1e-6), (1e-6, 1e-6), (0, 1e-6), (0, 1e-4), (1e-5, -1e-5), (0, -1e-3), (0.01, 0.000151), (1e-3, 1.51e-6), (0.1, 0.0151), (0.02, 0.01)] if wanted("pearson") else []:
    for x in [-3, -1, 0.2, 3]:
        lower, upper = pearson_p(x, skew, excess)
        add("pearson", (x, skew, excess), cdf=lower, sf=upper)

json.dump({
    "source": "computed, see extreme-arguments.source.md", "generator": f"extreme-arguments.gen.py, mpmath {mpmath.__version__}",
    "units": "none", "digits": 12, "cases": cases,
}, sys.stdout, indent=1)
