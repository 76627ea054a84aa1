"""Reference values for tests/reference/distributions.json.

Run: python3 tests/reference/distributions.gen.py > tests/reference/distributions.json
Needs mpmath 1.3.0. Values are computed at 50 digits from the defining series and integrals of mpmath (erfc, gammainc,
betainc, quad) and printed to 17 digits; quantile cases are stated as probability of a rounded argument, so that the
same pair checks the function and its inverse. No randomness.
"""
import json
from mpmath import (mp, mpf, erfc, gammainc, betainc, sqrt, exp, log, quad, binomial, factorial, inf, pi, besseli,
                    ncdf, npdf, gamma, hyp1f1, loggamma)

mp.dps = 50


def s(v):
    return float(mp.nstr(v, 20))


cases = {}


def add(name, args, cdf, sf):
    cases.setdefault(name, []).append({"args": [float(a) for a in args], "cdf": s(cdf), "sf": s(sf)})


def Q(z):
    return erfc(mpf(z) / sqrt(mpf(2))) / 2


for z in [-37, -20, -8, -4.5, -1.5, -0.3, 0, 0.1, 0.67, 2, 5, 12, 30]:
    add("normal", [z], Q(-mpf(z)), Q(z))

for a, xs in {0.3: [1e-8, 0.01, 0.5, 3, 40], 0.5: [0.001, 1, 20], 1: [0.5, 100], 2.5: [1e-6, 0.3, 2.5, 12, 80],
              10: [0.5, 5, 10, 20, 90], 49.5: [10, 35, 49, 70, 150], 250: [120, 220, 250, 300, 500],
              2000: [1500, 1900, 2000, 2200, 3000], 1e5: [97000, 99800, 1e5, 101000, 104000]}.items():
    for x in xs:
        a_, x_ = mpf(a), mpf(x)
        up = gammainc(a_, x_, inf, regularized=True)
        lo = gammainc(a_, 0, x_, regularized=True)
        add("gamma", [x, a], lo, up)


def incomplete_beta(a, b, x):
    """Positive series x^a (1-x)^b / (a B(a,b)) * sum (a+b)_k / (a+1)_k x^k, on the side where it converges fast."""
    mp.dps = 200
    x, a, b = mpf(x), mpf(a), mpf(b)
    if x > (a + 1) / (a + b + 2):
        value = 1 - incomplete_beta(b, a, 1 - x)
    else:
        mp.dps = 200
        term = total = mpf(1)
        k = 0
        while term > total * mpf(10) ** -150:
            term *= (a + b + k) / (a + 1 + k) * x
            total += term
            k += 1
        value = total * exp(a * log(x) + b * log(1 - x) - log(a) - loggamma(a) - loggamma(b) + loggamma(a + b))
    mp.dps = 50
    return value


def betapair(x, a, b):
    mp.dps = 200
    y = 1 - mpf(x)
    return incomplete_beta(a, b, x), incomplete_beta(b, a, y)


for a, b, xs in [(0.5, 0.5, [1e-6, 0.2, 0.9, 0.99999]), (1, 3, [0.001, 0.5, 0.99]), (2, 30, [1e-5, 0.03, 0.2, 0.6]),
                 (8, 10, [0.01, 0.3, 0.5, 0.9]), (0.2, 50, [1e-9, 0.001, 0.2]), (120, 3, [0.5, 0.9, 0.99]),
                 (300, 500, [0.2, 0.35, 0.375, 0.5]), (5000, 5000, [0.45, 0.499, 0.5, 0.53]),
                 (50000, 20, [0.998, 0.9996, 0.99999])]:
    for x in xs:
        lo, up = betapair(x, a, b)
        add("beta", [x, a, b], lo, up)


def tpair(x, df):
    x, df = mpf(x), mpf(df)
    mp.dps = 200
    w = df / (df + x * x)
    tail = incomplete_beta(df / 2, mpf(1) / 2, w) / 2
    return (tail, 1 - tail) if x < 0 else (1 - tail, tail)


for df, xs in {1: [-1e8, -30, -0.5, 2], 2: [-100, 1], 3.5: [-1e4, -4, 0.2, 50], 9: [-40, -2, 1e-3, 3, 15],
               30: [-20, -2.5, 0.7, 9], 199: [-15, -3, 1.97, 8], 5000: [-30, -3, 0.01, 6]}.items():
    for x in xs:
        add("t", [x, df], *tpair(x, df))

for d1, d2, xs in [(1, 1, [1e-6, 1, 1e6]), (2, 10, [0.01, 3, 60]), (5, 2.5, [1e-3, 1, 500]), (19, 19, [0.1, 0.8, 2.5, 20]),
                   (3, 200, [0.001, 1, 4, 30]), (150, 90, [0.3, 1, 1.5, 4]), (2, 997, [0.05, 5.9, 40])]:
    for x in xs:
        x_ = mpf(x)
        mp.dps = 200
        w, v = d1 * x_ / (d1 * x_ + d2), d2 / (d1 * x_ + d2)
        lo = incomplete_beta(mpf(d1) / 2, mpf(d2) / 2, w)
        mp.dps = 200
        up = incomplete_beta(mpf(d2) / 2, mpf(d1) / 2, v)
        add("f", [x, d1, d2], lo, up)

for k, lam, xs in [(1.8, 0.006, [1e-5, 0.003, 0.02, 0.05]), (0.7, 2, [1e-6, 1, 60]), (8, 40, [5, 39, 60])]:
    for x in xs:
        u = (mpf(x) / mpf(lam)) ** mpf(k)
        add("weibull", [x, k, lam], -mp.expm1(-u), exp(-u))

for mu, sg, xs in [(-5.3, 0.35, [1e-4, 0.005, 0.02, 0.2]), (0, 1, [1e-6, 1, 1e5])]:
    for x in xs:
        z = (log(mpf(x)) - mpf(mu)) / mpf(sg)
        add("lognormal", [x, mu, sg], Q(-z), Q(z))

for sg, xs in [(0.004, [1e-7, 0.002, 0.02, 0.08]), (1, [1e-3, 1, 20])]:
    for x in xs:
        u = mpf(x) ** 2 / (2 * mpf(sg) ** 2)
        add("rayleigh", [x, sg], -mp.expm1(-u), exp(-u))

for lam, ks in {0.05: [0, 1, 5, 20], 3: [0, 2, 10, 40], 50: [10, 45, 60, 150], 1200: [900, 1200, 1400]}.items():
    for k in ks:
        up = gammainc(k + 1, 0, mpf(lam), regularized=True)
        lo = gammainc(k + 1, mpf(lam), inf, regularized=True)
        add("poisson", [k, lam], lo, up)

for n, p, ks in [(13, 0.1, [0, 1, 5, 12]), (50, 0.02, [0, 1, 4, 30]), (200, 0.5, [20, 95, 100, 160]),
                 (5000, 0.001, [0, 4, 20, 60])]:
    p_ = mpf(p)
    for k in ks:
        lo = sum(binomial(n, i) * p_ ** i * (1 - p_) ** (n - i) for i in range(0, k + 1))
        up = sum(binomial(n, i) * p_ ** i * (1 - p_) ** (n - i) for i in range(k + 1, n + 1))
        add("binomial", [k, n, p], lo, up)

for N, K, n, ks in [(50, 5, 13, [0, 1, 3, 4]), (500, 20, 50, [0, 2, 8, 15]), (10000, 100, 500, [0, 5, 20, 60]),
                    (20, 15, 10, [5, 7, 9])]:
    tot = binomial(N, n)
    pm = lambda i: binomial(K, i) * binomial(N - K, n - i) / tot
    for k in ks:
        add("hypergeometric", [k, N, K, n], sum(pm(i) for i in range(max(0, n - N + K), k + 1)),
            sum(pm(i) for i in range(k + 1, min(K, n) + 1)))

mp.dps = 30


def breaks(a, b, centre, width):
    pts = sorted(p for p in {mpf(a), mpf(b), *[mpf(centre) + k * mpf(width) for k in (-30, -12, -6, -3, -1, 0, 1, 3, 6, 12, 30)]} if a <= p <= b)
    return pts


for nu, sg, xs in [(0, 1, [0.01, 1, 8]), (0.003, 0.002, [1e-4, 0.003, 0.01, 0.025]), (5, 1, [0.1, 3, 5, 9, 20]),
                   (50, 1, [40, 50, 58]), (0.05, 0.004, [0.02, 0.05, 0.08])]:
    for x in xs:
        nu_, sg_ = mpf(nu), mpf(sg)
        a, b = nu_ / sg_, mpf(x) / sg_
        f = lambda u: u * exp(-(u - a) ** 2 / 2) * exp(-u * a) * besseli(0, u * a)
        lo = quad(f, breaks(0, b, a, 1))
        top = max(a, b)
        # quad stops on an absolute error: scale the integrand by its value at the start of the tail
        scale = f(max(b, a))
        up = scale * quad(lambda u: f(u) / scale, sorted({b, *[p for p in (top + mpf(k) / 4 for k in range(-80, 49)) if p > b]}))
        add("rice", [x, nu, sg], lo, up)

for mu, sg, xs in [(0, 1, [1e-3, 1, 9]), (0.003, 0.002, [1e-5, 0.003, 0.012, 0.04]), (-4, 1, [0.5, 4, 10])]:
    for x in xs:
        a, b = (mpf(x) - mpf(mu)) / mpf(sg), (-mpf(x) - mpf(mu)) / mpf(sg)
        add("foldedNormal", [x, mu, sg], Q(-a) - Q(-b), Q(a) + Q(-b))


def nct(t, df, d):
    t, df, d = mpf(t), mpf(df), mpf(d)
    lc = log(mpf(2)) + (df / 2) * log(df / 2) - loggamma(df / 2)
    w = lambda u: exp(lc + (df - 1) * log(u) - df * u * u / 2)
    pts = sorted({mpf(0), mpf(1) / 4, mpf(1) / 2, mpf(3) / 4, mpf(1), mpf(5) / 4, mpf(3) / 2, mpf(2), mpf(3), mpf(5), 1 + 40 / sqrt(df)})
    lo = quad(lambda u: w(u) * Q(d - t * u), pts)
    up = quad(lambda u: w(u) * Q(t * u - d), pts)
    return lo, up


for t, df, d in [(2, 9, 0), (3, 9, 1.5), (1, 4, 3), (-1, 4, 1), (12, 9, 9.5), (30, 19, 13.4), (5, 2.5, 1), (40, 49, 35),
                 (15, 4, 2), (-3, 30, 0.5), (70, 99, 60), (0, 7, 2), (100, 6, 20), (8, 200, 12)]:
    add("noncentralT", [t, df, d], *nct(t, df, d))


def rangepair(r, n):
    r = mpf(r)
    f = lambda x: n * npdf(x) * (Q(x) - Q(x + r)) ** (n - 1)
    g = lambda x: n * npdf(x) * (Q(x) ** (n - 1) - (Q(x) - Q(x + r)) ** (n - 1))
    pts = [-r - 12, -r - 6, -r - 3, -r / 2 - 3, -r / 2, -r / 2 + 3, 3, 6, 12]
    pts = sorted(set(pts))
    return quad(f, pts), quad(g, pts)


for r, n in [(0.1, 2), (1, 2), (6, 2), (0.5, 5), (2.3, 5), (5, 5), (12, 5), (1, 10), (3.1, 10), (7, 10), (3, 25), (5, 25),
             (4, 100), (5, 100), (9, 100)]:
    add("range", [r, n], *rangepair(r, n))

mp.dps = 18



mp.dps = 25


def circle(r, m1, m2, s11, s12, s22):
    """Polar form about the origin: integral over the angle of the radial tail, a closed form in erfc."""
    det = mpf(s11) * s22 - mpf(s12) ** 2

    def ray(t):
        c, d = mp.cos(t), mp.sin(t)
        A = (s22 * c * c - 2 * s12 * c * d + s11 * d * d) / det
        B = (s22 * c * m1 - s12 * (c * m2 + d * m1) + s11 * d * m2) / det
        C = (s22 * mpf(m1) ** 2 - 2 * s12 * mpf(m1) * m2 + s11 * mpf(m2) ** 2) / det
        # integral from r of rho exp(-(A rho^2 - 2 B rho + C)/2) d rho
        z = sqrt(A) * (r - B / A)
        base = exp(-(C - B * B / A) / 2)
        return base * (exp(-z * z / 2) / A + (B / A) * sqrt(2 * pi / A) * Q(z)) / (2 * pi * sqrt(det))

    pts = [2 * pi * k / 600 for k in range(601)]
    up = quad(ray, pts)
    return 1 - up, up


for a in [(0.075, 0.01, -0.02, 4e-4, 1e-4, 3e-4), (0.05, 0, 0, 1e-4, 0, 1e-4), (0.075, 0.03, 0.03, 1e-4, -5e-5, 2e-4),
          (0.1, 0.005, 0.01, 1e-4, 0, 1e-6), (1, 2, 0.5, 0.3, 0.2, 0.4), (0.2, 0.01, 0, 1e-4, 9e-5, 1e-4), (3, 0, 0, 1, 0.99, 1)]:
    add("outsideCircle", a, *circle(*[mpf(v) for v in a]))

print(json.dumps({
    "source": "mpmath 1.3.0 at 30-50 digits from defining series and integrals",
    "generator": "tests/reference/distributions.gen.py",
    "units": "args in the order of the function (value first); gamma with scale 1",
    "digits": 17,
    "cases": cases,
}, indent=None, separators=(",", ":")))
