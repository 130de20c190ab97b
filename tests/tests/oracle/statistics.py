"""What scipy makes of random series, for services/alarms/tests/statistics/scipy.json.

`make` as argument prints new series with their answers; without, series come in on standard input and the answers go
out."""

import json
import sys

import numpy as np
from scipy.stats import median_abs_deviation, siegelslopes, theilslopes


def answer(case):
    t, y = np.array(case["t_ms"]) / 3_600_000, np.array(case["y"])
    theil, siegel = theilslopes(y, t), siegelslopes(y, t)
    return {
        "median": float(np.median(y)),
        "mad": float(median_abs_deviation(y)),
        "scaled": float(median_abs_deviation(y, scale="normal")),
        "theil_sen": float(theil.slope),
        "theil_sen_intercept": float(theil.intercept),
        "siegel": float(siegel.slope),
        "siegel_intercept": float(siegel.intercept),
    }


def make(rng):
    """Irregular times from 0 on, some of them equal; a slope, noise, and up to four in ten wild values."""
    n = int(rng.integers(2, 40))
    t = np.sort(rng.integers(1, 7_200_000, n))
    if n > 4 and rng.random() < 0.3:
        t[2] = t[1]
    t[0] = 0
    y = 26 + rng.normal(0, 0.5) * t / 3_600_000 + rng.normal(0, 0.05, n)
    wild = rng.random(n) < rng.choice([0, 0.1, 0.4])
    y = np.where(wild, rng.choice([85.0, -127.0, 0.0], n), y)
    # A probe of sixteenths of a kelvin gives many equal values and slopes of nought.
    y = np.round(y * 16) / 16 if rng.random() < 0.5 else np.round(y, 3)
    return {"t_ms": [int(x) for x in t], "y": [float(x) for x in y]}


if sys.argv[1:] == ["make"]:
    rng = np.random.default_rng(20311129)
    cases = [make(rng) for _ in range(50)]
    lines = ",\n".join(json.dumps(case | {"answer": answer(case)}) for case in cases)
    print(f"[\n{lines}\n]")
else:
    json.dump([answer(case) for case in json.load(sys.stdin)], sys.stdout)
