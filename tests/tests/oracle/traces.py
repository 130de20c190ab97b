"""200 random temperature records with gaps: degree-days summed by numpy and scipy, against hatchwarden project.

Arguments: the program, a species file, an empty folder. Prints the largest relative difference as JSON."""

import json
import subprocess
import sys
from datetime import datetime, timedelta, timezone

import numpy as np
from scipy.integrate import quad

program, species, folder = sys.argv[1:4]
BASE, CAP = 18.0, 31.0
START = datetime(2031, 3, 10, tzinfo=timezone.utc)
rng = np.random.default_rng(20310310)


def record():
    """Seconds and degrees: minutes apart, now and then hours; swinging through the base temperature and the cap."""
    steps = rng.integers(60, 1500, size=rng.integers(40, 160))
    gaps = rng.random(len(steps)) < 0.06
    steps[gaps] = rng.integers(1801, 5 * 3600, size=gaps.sum())
    t = np.concatenate([[0], np.cumsum(steps)])
    water = 25 + 9 * np.sin(2 * np.pi * t / 86400 + rng.uniform(0, 6.3)) + rng.normal(0, 1.5, size=len(t))
    return t.astype(float), np.round(np.clip(water, 2, 40), 3)


def fill(t, c, i):
    """Mean of the hour before reading i, as far as it was read without a gap."""
    start = max(t[0], t[i] - 3600)
    warmth = length = 0.0
    for a in range(i):
        low, high = max(t[a], start), t[a + 1]
        if high <= start or t[a + 1] - t[a] > 1800:
            continue
        ends = np.interp([low, high], t, c)
        warmth += ends.mean() * (high - low)
        length += high - low
    return warmth / length if length else c[i]


def degree_days(t, c):
    speed = lambda x: min(max(x, BASE), CAP) - BASE
    total = 0.0
    for i in range(len(t) - 1):
        length = t[i + 1] - t[i]
        if length > 1800:
            total += speed(fill(t, c, i)) * length
            continue
        slope = (c[i + 1] - c[i]) / length
        kinks = [] if slope == 0 else [(level - c[i]) / slope for level in (BASE, CAP)]
        kinks = sorted(k for k in kinks if 0 < k < length)
        ends = [0.0, *kinks, length]
        for a, b in zip(ends, ends[1:]):
            total += quad(lambda s: speed(c[i] + slope * s), a, b, epsabs=1e-12, epsrel=1e-12)[0]
    return total / 86400


worst, gaps = 0.0, 0
for n in range(200):
    t, c = record()
    gaps += int((np.diff(t) > 1800).sum())
    path = f"{folder}/{n}.csv"
    with open(path, "w") as out:
        out.write("time,celsius\n")
        for s, x in zip(t, c):
            out.write(f"{(START + timedelta(seconds=s)).isoformat()},{x}\n")
    said = subprocess.run(
        [program, "project", "--species", "swinging", "--species-file", species, "--day0", START.isoformat(), "--temps", path, "--json"],
        check=True,
        capture_output=True,
    )
    ours, theirs = json.loads(said.stdout)["degree_days"], degree_days(t, c)
    worst = max(worst, abs(ours - theirs) / max(theirs, 1e-9))
print(json.dumps({"worst": worst, "gaps": gaps}))
