# Generates rounded-fits.json: run  python3 rounded-fits.gen.py > rounded-fits.json
# Needs numpy 2, scipy 1.17. Greatest likelihood of grouped data, by scipy's distribution functions and its optimiser,
# without the code that is tested.
import json, sys
import numpy, scipy
from scipy import optimize, stats

LAWS = {
    "rayleigh": (1, lambda t: stats.rayleigh(scale=numpy.exp(t[0])), lambda t: {"sigma": numpy.exp(t[0])}),
    "rice": (
        2,
        lambda t: stats.rice(numpy.exp(t[0]) / numpy.exp(t[1]), scale=numpy.exp(t[1])),
        lambda t: {"offset": numpy.exp(t[0]), "sigma": numpy.exp(t[1])},
    ),
    "folded-normal": (
        2,
        lambda t: stats.foldnorm(numpy.exp(t[0]) / numpy.exp(t[1]), scale=numpy.exp(t[1])),
        lambda t: {"mu": numpy.exp(t[0]), "sigma": numpy.exp(t[1])},
    ),
    "weibull": (
        2,
        lambda t: stats.weibull_min(numpy.exp(t[0]), scale=numpy.exp(t[1])),
        lambda t: {"shape": numpy.exp(t[0]), "scale": numpy.exp(t[1])},
    ),
    "lognormal": (
        2,
        lambda t: stats.lognorm(numpy.exp(t[1]), scale=numpy.exp(t[0])),
        lambda t: {"logMean": t[0], "logSd": numpy.exp(t[1])},
    ),
    "normal": (2, lambda t: stats.norm(t[0], numpy.exp(t[1])), lambda t: {"mean": t[0], "sd": numpy.exp(t[1])}),
}


def masses(law, intervals):
    out = []
    for low, high, _ in intervals:
        low = -numpy.inf if low is None else low
        if low == high:
            out.append(law.pdf(low))
        elif low > law.median():
            out.append(law.sf(low) - law.sf(high))
        else:
            out.append(law.cdf(high) - law.cdf(low))
    return numpy.log(numpy.array(out))


def fit(family, intervals, starts):
    dims, law_at, named = LAWS[family]
    counts = numpy.array([c for _, _, c in intervals], dtype=float)

    def minus(t):
        with numpy.errstate(all="ignore"):
            value = -float(counts @ masses(law_at(t), intervals))
        return value if numpy.isfinite(value) else 1e300

    best = None
    for start in starts:
        t = numpy.array(start[:dims])
        for _ in range(6):
            t = optimize.minimize(minus, t, method="Nelder-Mead", options={"xatol": 1e-12, "fatol": 1e-13, "maxiter": 4000, "maxfev": 4000}).x
        if best is None or minus(t) < minus(best):
            best = t
    return {k: float(v) for k, v in named(best).items()}, -minus(best)


random = numpy.random.default_rng(20261130)
raw = {
    "rayleigh": numpy.hypot(*(10 * random.standard_normal((2, 300)))),
    "rice": numpy.hypot(20 + 8 * random.standard_normal(120), 8 * random.standard_normal(120)),
    "folded-normal": numpy.abs(3 + 2 * random.standard_normal(150)),
    "weibull": 6 * random.weibull(1.8, 200),
    "lognormal": numpy.exp(1.6 + 0.35 * random.standard_normal(100)),
    "normal": 40.975 + 0.004 * random.standard_normal(200),
}
plans = [
    ("rayleigh", 1.0, "rounded to 1"), ("rayleigh", 5.0, "rounded to 5"), ("rayleigh", None, "exact but for one 0"),
    ("rice", 5.0, "rounded to 5"), ("folded-normal", 1.0, "rounded to 1"), ("weibull", 1.0, "rounded to 1"),
    ("weibull", 0.5, "rounded to 0.5"), ("weibull", None, "exact but for one 0"), ("lognormal", 1.0, "rounded to 1"),
    ("lognormal", None, "exact but for one 0"), ("normal", 0.005, "rounded to 0.005"),
]
starts = {
    "rayleigh": [[2.3]], "rice": [[3.0, 2.1]], "folded-normal": [[1.1, 0.7]], "weibull": [[0.6, 1.8]],
    "lognormal": [[1.6, -1.0]], "normal": [[40.975, -5.5]],
}
cases = []
for family, step, name in plans:
    data = raw[family]
    if step is None:
        values = numpy.array([0.0] + [round(float(v), 12) for v in data[1:]])
        zero_end = float(values[1:].min())
        intervals = [[None, zero_end, 1]] + [[float(v), float(v), 1] for v in sorted(values[1:])]
    else:
        steps = numpy.rint(data / step).astype(int)
        values = steps * step
        keys, counts = numpy.unique(steps, return_counts=True)
        least = min(k for k in keys if k > 0)
        intervals = [
            [None, float((least - 0.5) * step), int(c)] if k == 0 and family != "normal" else [float((k - 0.5) * step), float((k + 0.5) * step), int(c)]
            for k, c in zip(keys, counts)
        ]
    model, height = fit(family, intervals, starts[family])
    cases.append({
        "name": f"{family}, {name}",
        "source": f"scipy {scipy.__version__} optimize.minimize on the likelihood of the intervals, see rounded-fits.gen.py",
        "input": {"family": family, "values": [round(float(v), 12) for v in values]},
        "expected": {"model": model, "logLikelihood": height},
    })
json.dump({
    "source": "computed, see rounded-fits.source.md", "generator": f"rounded-fits.gen.py, numpy {numpy.__version__}, scipy {scipy.__version__}",
    "units": "any", "digits": 7, "cases": cases,
}, sys.stdout, indent=1)
