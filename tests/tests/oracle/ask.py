"""Integrates rooms with scipy. Reads a task from standard input and prints the values at the times asked for."""

import json
import math
import sys

from scipy.integrate import solve_ivp

EXACT = {"rtol": 1e-10, "atol": 1e-10, "method": "DOP853"}


def tank(task):
    """A heater with a thermostat of two steps. It crosses a threshold at an event of the solver, and switches at the
    next look, every `look` seconds."""

    def air(t):
        # The room holds its air from look to look, which is half of that late.
        since = t - task["look"] / 2 - task["warmest"]
        return task["mean"] + task["swing"] * math.cos(2 * math.pi * since / 86400)

    def slope(t, y, watts):
        return [(watts + task["loss"] * (air(t) - y[0])) / task["capacity"]]

    low, high = (task["set_point"] + sign * task["hysteresis"] / 2 for sign in (-1, 1))
    t, y, on = 0.0, task["start"], task["start"] < task["set_point"]
    times, values = list(task["times"]), []
    while times:
        crossing = lambda t, y, watts, at=high if on else low: y[0] - at
        crossing.terminal, crossing.direction = True, 1 if on else -1
        watts = task["watts"] if on else 0.0
        part = solve_ivp(slope, (t, times[-1] + 1), [y], args=(watts,), events=crossing, dense_output=True, **EXACT)
        if not part.t_events[0].size:
            return values + [float(part.sol(at)[0]) for at in times]
        look = math.ceil(part.t_events[0][0] / task["look"]) * task["look"]
        part = solve_ivp(slope, (t, look), [y], args=(watts,), dense_output=True, **EXACT)
        while times and times[0] <= look:
            values.append(float(part.sol(times.pop(0))[0]))
        t, y, on = look, float(part.y[0][-1]), not on
    return values


def header(task):
    """A header tank of which only jars drink, each as the level stands over its own mark."""

    def slope(_, y):
        taken = sum(q * max(0.0, min(1.0, (y[0] - dry) / (1 - dry))) for q, dry in task["jars"])
        return [-taken / task["litres"] / 60]

    # Short steps: the slope has corners where a jar runs dry.
    run = solve_ivp(slope, (0, task["times"][-1] + 1), [1.0], dense_output=True, max_step=1.0)
    return [float(run.sol(at)[0]) for at in task["times"]]


def oxygen(task):
    """Oxygen that comes in through a surface and is used up at a steady rate."""

    def slope(_, y):
        return [task["rate"] * (task["saturation"] - y[0]) - task["taken"]]

    run = solve_ivp(slope, (0, task["times"][-1] + 1), [task["start"]], dense_output=True, **EXACT)
    return [float(run.sol(at)[0]) for at in task["times"]]


asked = json.load(sys.stdin)
json.dump({"tank": tank, "header": header, "oxygen": oxygen}[asked["what"]](asked), sys.stdout)
