"""What numpy and scipy make of the clutches of a room, for services/development/tests/pooled.json.

`make` as argument prints new cases with their answers; without, cases come in on standard input and the answers go out.
Ours solves the covariance of what was told and weighs again and again; here the effects themselves are unknowns, found
by minimising the convex sum that those weights stand for, and their covariance comes from the mixed model equations."""

import json
import sys

import numpy as np
from scipy.optimize import minimize

ROOM, MOTHER, PACE, WILD = 0.5, 0.05, 0.5, 1.345
CLUTCH = 1 - ROOM - MOTHER
STAGES = ["hatch", "free-swimming"]
BOTH = np.array([[1, PACE], [PACE, 1]])
FOUR_OF_FIVE = 1.2815515655446


def mother_of(e):
    return e["mother"] or "of " + e["clutch"]


def answer(case):
    sigma = np.array(case["spread_percent"]) / 100 / FOUR_OF_FIVE
    between = BOTH * np.outer(sigma, sigma)
    mothers = sorted({mother_of(e) for e in case["evidence"]})
    n = 2 + 2 * len(mothers)
    prior = np.zeros((n, n))
    prior[:2, :2] = ROOM * between
    for i in range(2, n, 2):
        prior[i : i + 2, i : i + 2] = MOTHER * between
    clutches = []
    for clutch in sorted({e["clutch"] for e in case["evidence"]}):
        own = [e for e in case["evidence"] if e["clutch"] == clutch]
        at = [STAGES.index(e["stage"]) for e in own]
        z = np.zeros((len(own), n))
        for row, (stage, e) in enumerate(zip(at, own)):
            z[row, stage] = 1
            z[row, 2 + 2 * mothers.index(mother_of(e)) + stage] = 1
        error = np.sqrt([e["variance"] for e in own])
        d = CLUTCH * between[np.ix_(at, at)] + BOTH[np.ix_(at, at)] * np.outer(error, error)
        clutches.append((z, np.array([e["y"] for e in own]), np.linalg.inv(d)))
    inverse = np.linalg.inv(prior)

    def off(u, z, y, d):
        r = y - z @ u
        return np.sqrt(r @ d @ r)

    def weight(u, c):
        far = off(u, *c)
        return min(1.0, WILD / far) if far > 0 else 1.0

    def cost(u):
        total = 0.5 * u @ inverse @ u
        for c in clutches:
            far = off(u, *c)
            total += 0.5 * far**2 if far <= WILD else WILD * (far - 0.5 * WILD)
        return total

    def slope(u):
        return inverse @ u - sum(weight(u, c) * c[0].T @ c[2] @ (c[1] - c[0] @ u) for c in clutches)

    def bend(u):
        return inverse + sum(weight(u, c) * c[0].T @ c[2] @ c[0] for c in clutches)

    u = minimize(cost, np.zeros(n), jac=slope, hess=bend, method="trust-exact", options={"gtol": 1e-11, "maxiter": 10000}).x
    covariance = np.linalg.inv(bend(u))
    said = []
    for mother in case["mothers"]:
        for stage, s in enumerate(sigma):
            pick = np.zeros(n)
            pick[stage] = 1
            new = 0.0
            if mother in mothers:
                pick[2 + 2 * mothers.index(mother) + stage] = 1
            else:
                new = MOTHER * s * s
            said.append({"mother": mother, "stage": STAGES[stage], "mean": pick @ u, "variance": pick @ covariance @ pick + new})
    return said


def make(rng):
    spread = [float(rng.integers(8, 30)) for _ in STAGES]
    room = rng.normal(0, 0.1)
    evidence = []
    for clutch in range(rng.integers(1, 12)):
        mother = rng.choice(["M1", "M2", "M3", None])
        wild = rng.choice([0, 0, 0, 0, 0.9, -1.4])
        for stage in STAGES:
            if rng.random() < 0.75:
                y = room + wild + rng.normal(0, 0.08)
                variance = rng.choice([0.0, 0.0004, 0.003, 0.02])
                evidence.append({"clutch": f"c{clutch}", "mother": mother, "stage": stage, "y": round(y, 4), "variance": variance})
    return {"spread_percent": spread, "evidence": evidence, "mothers": ["M1", "M3", None]}


if sys.argv[1:] == ["make"]:
    rng = np.random.default_rng(20311128)
    cases = [c for c in (make(rng) for _ in range(16)) if c["evidence"]]
    lines = ",\n".join(json.dumps(c | {"answers": answer(c)}) for c in cases)
    print(f"[\n{lines}\n]")
else:
    json.dump([answer(c) for c in json.load(sys.stdin)], sys.stdout)
