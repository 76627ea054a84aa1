# Kappa of two tables, computed apart from Shellgate: variances by numerical derivatives of kappa by each cell (delta method) and by
# leaving out one part at a time. numpy 2.4.6. Run: python3 kappa.gen.py > kappa.json
import json
import numpy as np


def cohen(table):
    p = table / table.sum()
    expected = p.sum(1) @ p.sum(0)
    return (np.trace(p) - expected) / (1 - expected)


def delta_error(table):
    n = table.sum()
    p = table / n
    gradient = np.zeros_like(p)
    for i in range(p.shape[0]):
        for j in range(p.shape[1]):
            step = np.zeros_like(p)
            step[i, j] = 1e-6
            # Free derivative: shares are not scaled back to 1, the multinomial covariance takes care of that.
            def free(q):
                e = q.sum(1) @ q.sum(0)
                return (np.trace(q) - e) / (1 - e)
            gradient[i, j] = (free(p + step) - free(p - step)) / 2e-6
    g = gradient.ravel()
    q = p.ravel()
    return float(np.sqrt((np.sum(q * g * g) - np.sum(q * g) ** 2) / n))


def fleiss(counts):
    n, m = counts.shape[0], counts[0].sum()
    shares = counts.sum(0) / (n * m)
    agree = ((counts * (counts - 1)).sum(1) / (m * (m - 1))).mean()
    return float((agree - (shares**2).sum()) / (1 - (shares**2).sum()))


def jackknife(counts):
    n = counts.shape[0]
    each = np.array([fleiss(np.delete(counts, i, 0)) for i in range(n)])
    return float(np.sqrt((n - 1) / n * ((each - each.mean()) ** 2).sum()))


diagnoses = np.array([[75, 1, 4], [5, 4, 1], [0, 0, 10]], float)
raters = np.array(
    [[0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
     [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7]], float)
json.dump(
    {
        "source": "see kappa.source.md",
        "cohen": {"table": diagnoses.astype(int).tolist(), "printed": {"kappa": 0.68},
                  "computed": {"kappa": float(cohen(diagnoses)), "standardError": delta_error(diagnoses)}},
        "fleiss": {"counts": raters.astype(int).tolist(), "printed": {"kappa": 0.210},
                   "computed": {"kappa": fleiss(raters), "standardError": jackknife(raters)}},
    },
    __import__("sys").stdout, indent=1)
