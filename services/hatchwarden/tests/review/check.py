"""The figures of a night by numpy, its ends by zoneinfo.

Standard input: JSON with zone, date (of the evening), readings ([ms, °C] in order), low, high (the band), base (°C)."""

import json
import sys
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

asked = json.load(sys.stdin)
zone = ZoneInfo(asked["zone"])
readings = np.array(asked["readings"])
HALF_HOUR = 1_800_000
HOUR = 3_600_000


def ends(evening):
    dusk = datetime.combine(evening, time(20), zone)
    dawn = datetime.combine(evening + timedelta(days=1), time(7), zone)
    return round(dusk.timestamp() * 1000), round(dawn.timestamp() * 1000)


def lines(a, b):
    """Arrays of times and degrees, one for each stretch without a gap, cut at a and b."""
    times, values = readings[:, 0], readings[:, 1]
    cuts = np.flatnonzero(np.diff(times) > HALF_HOUR) + 1
    for t, v in zip(np.split(times, cuts), np.split(values, cuts)):
        lo, hi = max(a, t[0]), min(b, t[-1])
        if len(t) > 1 and lo < hi:
            inner = t[(t > lo) & (t < hi)]
            grid = np.concatenate([[lo], inner, [hi]])
            yield grid, np.interp(grid, t, v)


def crossed(t, v, level):
    """The same with every crossing of a level among its points."""
    i = np.flatnonzero((v[:-1] - level) * (v[1:] - level) < 0)
    at = t[i] + (level - v[i]) / (v[i + 1] - v[i]) * (t[i + 1] - t[i])
    grid = np.union1d(t, at)
    return grid, np.interp(grid, t, v)


def time_beyond(parts, level, sign):
    whole = 0.0
    for t, v in parts:
        grid, w = crossed(t, v, level)
        middle = 0.5 * (w[:-1] + w[1:])
        whole += np.diff(grid)[sign * (middle - level) > 0].sum()
    return whole / HOUR


def figures(evening):
    a, b = ends(evening)
    parts = list(lines(a, b))
    read = sum(t[-1] - t[0] for t, _ in parts)
    area = sum(np.trapezoid(v, t) for t, v in parts)
    return dict(
        min=min((v.min() for _, v in parts), default=None),
        max=max((v.max() for _, v in parts), default=None),
        mean=area / read if read else None,
        read=read / HOUR,
        share=read / (b - a),
        below=time_beyond(parts, asked["low"], -1),
        above=time_beyond(parts, asked["high"], 1),
    )


def gaps(a, b):
    times = readings[:, 0]
    inside = times[(times >= a) & (times <= b)]
    before, after = times[times < a], times[times > b]
    count = int((np.diff(inside) > HALF_HOUR).sum())
    for outer, edge, near in ((before[-1:], a, inside[:1]), (after[:1], b, inside[-1:])):
        hole = len(outer) == 0 or abs(near[0] - outer[0]) > HALF_HOUR
        count += int(hole and abs(near[0] - edge) > HALF_HOUR)
    return count


def fill(i):
    """Mean of the hour before reading i, as far as it was read."""
    t, v = readings[: i + 1, 0], readings[: i + 1, 1]
    start = t[-1] - HOUR
    area = length = 0.0
    for (t0, a), (t1, b) in zip(zip(t[:-1], v[:-1]), zip(t[1:], v[1:])):
        if t1 <= start or t1 - t0 > HALF_HOUR:
            continue
        cut = max(t0, start)
        at = a + (b - a) * (cut - t0) / (t1 - t0)
        area += 0.5 * (at + b) * (t1 - cut)
        length += t1 - cut
    return area / length if length else v[-1]


def gained(a, b):
    """Degree-days above the base, gaps filled; the water never reaches base or cap here."""
    whole = sum(np.trapezoid(v - asked["base"], t) for t, v in lines(a, b))
    times = readings[:, 0]
    for i in np.flatnonzero(np.diff(times) > HALF_HOUR):
        lo, hi = max(a, times[i]), min(b, times[i + 1])
        if lo < hi:
            whole += (fill(i) - asked["base"]) * (hi - lo)
    return whole / (24 * HOUR)


evening = date.fromisoformat(asked["date"])
dusk, dawn = ends(evening)
before = [figures(evening - timedelta(days=n)) for n in range(1, 15)]
usable = [f for f in before if f["share"] >= 0.8]
median = lambda of: float(np.median([of(f) for f in usable])) if usable else None
said = figures(evening)
said.update(
    dusk=dusk,
    dawn=dawn,
    gaps=gaps(dusk, dawn),
    gained=gained(dusk, dawn),
    usual_mean=median(lambda f: f["mean"]),
    usual_outside=median(lambda f: f["below"] + f["above"]),
    usual_nights=len(usable),
)
print(json.dumps(said))
