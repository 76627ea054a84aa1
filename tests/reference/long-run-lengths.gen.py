# Run lengths that double precision solvers lose: very long ones (mpmath, 50 digits, plain elimination), and EWMA and
# multivariate EWMA charts of small weight (numpy, composite Gauss-Legendre rule fine enough that doubling it changes nothing).
# mpmath 1.3.0, numpy 2.4.6, scipy 1.17.1. Run: python3 long-run-lengths.gen.py > long-run-lengths.json
import json
import mpmath as mp
import numpy as np
from scipy.special import roots_legendre
from scipy.stats import norm

mp.mp.dps = 50


def mp_panels(low, high, panels, order=12):
    x, w = roots_legendre(order)
    nodes, weights = [], []
    for x0 in x:  # polish the nodes to 50 digits
        z = mp.findroot(lambda t: mp.legendre(order, t), mp.mpf(float(x0)), tol=mp.mpf(10) ** -90)
        d = order * (z * mp.legendre(order, z) - mp.legendre(order - 1, z)) / (z * z - 1)
        nodes.append(z)
        weights.append(2 / ((1 - z * z) * d * d))
    h = (mp.mpf(high) - low) / panels / 2
    at = [low + h * (2 * p + 1 + z) for p in range(panels) for z in nodes]
    return at, [h * w for p in range(panels) for w in weights]


def mp_solve(q):
    n = len(q)
    a = [[(1 if i == j else 0) - q[i][j] for j in range(n)] + [mp.mpf(1)] for i in range(n)]
    for c in range(n):
        for r in range(c + 1, n):
            f = a[r][c] / a[c][c]
            if f:
                for k in range(c, n + 1):
                    a[r][k] -= f * a[c][k]
    x = [mp.mpf(0)] * n
    for r in range(n - 1, -1, -1):
        x[r] = (a[r][n] - sum(a[r][k] * x[k] for k in range(r + 1, n))) / a[r][r]
    return x


def cusum(k, h, shift):
    k, shift = mp.mpf(str(k)), mp.mpf(str(shift))
    at, w = mp_panels(mp.mpf(0), mp.mpf(str(h)), max(2, int(h)), 16)
    at, w = [mp.mpf(0)] + at, [mp.mpf(0)] + w
    row = lambda u: [mp.ncdf(k - u - shift)] + [w[j] * mp.npdf(at[j] + k - u - shift) for j in range(1, len(at))]
    lengths = mp_solve([row(u) for u in at])
    return float(1 + sum(a * b for a, b in zip(row(mp.mpf(0)), lengths)))


def mp_ewma(lam, width, shift, sides):
    lam, width, shift = mp.mpf(str(lam)), mp.mpf(str(width)), mp.mpf(str(shift))
    sd = mp.sqrt(lam / (2 - lam))
    low = -width * sd if sides == "both" else -12 * sd + min(0, shift)
    at, w = mp_panels(low, width * sd, int(mp.ceil((width * sd - low) / lam)), 16)
    row = lambda u: [w[j] * mp.npdf((at[j] - (1 - lam) * u) / lam - shift) / lam for j in range(len(at))]
    lengths = mp_solve([row(u) for u in at])
    return float(1 + sum(a * b for a, b in zip(row(mp.mpf(0)), lengths)))


def panels(low, high, count, order):
    x, w = roots_legendre(order)
    h = (high - low) / count / 2
    return np.concatenate([low + h * (2 * p + 1 + x) for p in range(count)]), np.tile(h * w, count)


def ewma(lam, width, shift, sides):
    sd = np.sqrt(lam / (2 - lam))
    low = -width * sd if sides == "both" else -14 * sd + min(0, shift)
    x, w = panels(low, width * sd, int(np.ceil((width * sd - low) / lam / 1.5)) + 4, 8)
    row = lambda u: norm.pdf((x - (1 - lam) * u) / lam - shift) / lam * w
    q = np.array([row(u) for u in x])
    return float(1 + row(0.0) @ np.linalg.solve(np.eye(len(x)) - q, np.ones(len(x))))


def mewma_two(lam, limit, shift, rings=60, angles=140):
    reach = np.sqrt(limit * lam / (2 - lam))
    r, wr = panels(0, reach, rings // 10, 10)
    theta = (np.arange(angles) + 0.5) * 2 * np.pi / angles
    theta = theta[theta < np.pi]
    x, y = (r[:, None] * np.cos(theta)).ravel(), (r[:, None] * np.sin(theta)).ravel()
    w = np.repeat(wr * r, len(theta)) * 2 * np.pi / angles

    def rows(fx, fy):
        along = norm.pdf((x[None, :] - (1 - lam) * fx[:, None]) / lam - shift) / lam**2
        both = sum(norm.pdf((s * y[None, :] - (1 - lam) * fy[:, None]) / lam) for s in (1, -1))
        return along * both * w[None, :]

    lengths = np.linalg.solve(np.eye(len(x)) - rows(x, y), np.ones(len(x)))
    return float(1 + (rows(np.zeros(1), np.zeros(1)) @ lengths)[0])


cases = []
for k, h, shift in [(0.5, 10, 0), (0.5, 20, 0), (0.5, 5, -2), (2, 6, 0)]:
    cases.append(dict(chart="cusum", k=k, h=h, shift=shift, mean=cusum(k, h, shift), by="mpmath"))
for lam, width, shift, sides in [(0.2, 7, 0, "both"), (0.5, 9, 0, "both"), (0.2, 2.7, -1, "upper")]:
    cases.append(dict(chart="ewma", lam=lam, width=width, shift=shift, sides=sides, mean=mp_ewma(lam, width, shift, sides), by="mpmath"))
for lam, width, shift, sides in [(0.002, 2.5, 0, "both"), (0.002, 2, 0.1, "both"), (0.005, 2.5, 0, "both"), (0.02, 2.3, 2, "upper")]:
    cases.append(dict(chart="ewma", lam=lam, width=width, shift=shift, sides=sides, mean=ewma(lam, width, shift, sides), by="numpy"))
for lam, limit, shift in [(0.02, 6, 0.25), (0.02, 6, 1), (0.02, 12, 0.5), (0.05, 8, 0.5), (0.1, 8.64, 0.1), (0.1, 8.64, 4)]:
    cases.append(dict(chart="mewma", lam=lam, limit=limit, shift=shift, mean=mewma_two(lam, limit, shift), by="numpy"))
print(json.dumps({"source": "long-run-lengths.gen.py", "units": "points", "digits": "at least 10", "cases": cases}, indent=1))
