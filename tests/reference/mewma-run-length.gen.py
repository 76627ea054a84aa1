# Simulated run lengths of multivariate EWMA charts, with standard errors, beside the published ones.
# numpy 2.4.6, seed 41. Run: python3 mewma-run-length.gen.py > mewma-run-length.json
import json
import numpy as np

rng = np.random.default_rng(41)


def simulate(p, lam, limit, shift, runs):
    z = np.zeros((runs, p))
    alive = np.arange(runs)
    lengths = np.zeros(runs)
    t = 0
    while alive.size:
        t += 1
        x = rng.standard_normal((alive.size, p))
        x[:, 0] += shift
        z = lam * x + (1 - lam) * z
        out = (z * z).sum(1) > limit * lam / (2 - lam)
        lengths[alive[out]] = t
        alive, z = alive[~out], z[~out]
    return {"mean": float(lengths.mean()), "standardError": float(lengths.std(ddof=1) / np.sqrt(runs)), "runs": runs}


PRABHU = "Prabhu and Runger 1997, Journal of Quality Technology 29(1) 8-15 (Montgomery, Introduction to Statistical Quality Control, table 11.3), Markov chain; typed from memory"
RIGDON_A = "Rigdon 1995, Journal of Statistical Computation and Simulation 52 351-365, table 1"
RIGDON_B = "Rigdon 1995, Statistics and Probability Letters 24 365-373, table 1, p. 372"
cases = []
for lam, limit, *printed in [
    (0.05, 7.35, 26.61, 11.23, 7.14, 5.28),
    (0.10, 8.64, 28.07, 10.15, 6.11, 4.42),
    (0.20, 9.65, 35.17, 10.20, 5.49, 3.78),
    (0.30, 10.08, 44.10, 11.36, 5.48, 3.56),
]:
    for shift, value in zip((0, 0.5, 1, 1.5, 2), (200, *printed)):
        runs = 20_000 if shift == 0 else 200_000
        cases.append(dict(source=PRABHU, dimensions=2, lam=lam, limit=limit, shift=shift, printed=value, simulated=simulate(2, lam, limit, shift, runs)))
cases.append(dict(source=RIGDON_B, dimensions=4, lam=0.1, limit=12.73, shift=0, printed=200, simulated=simulate(4, 0.1, 12.73, 0, 20_000)))
cases.append(dict(source=RIGDON_A, dimensions=4, lam=0.25, limit=16.38, shift=0, printed=500, simulated=simulate(4, 0.25, 16.38, 0, 20_000)))
cases.append(dict(source=RIGDON_B, dimensions=5, lam=0.1, limit=14.56, shift=1, printed=12.9, simulated=simulate(5, 0.1, 14.56, 1, 200_000)))
cases.append(dict(source="simulation only", dimensions=3, lam=0.1, limit=14.98, shift=0, printed=None, simulated=simulate(3, 0.1, 14.98, 0, 20_000)))
print(json.dumps({"source": "see each case", "generator": "mewma-run-length.gen.py", "units": "points", "digits": "as printed", "cases": cases}, indent=1))
