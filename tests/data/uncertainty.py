"""Makes tests/data/uncertainty.json: sets of lights with what is uncertain of them, and what a long Monte Carlo says
(JCGM 101:2008, 100,000 draws each). Run with NumPy: python3 tests/data/uncertainty.py

A source is a normal distribution of two halves: half of the mass on each side, each with a standard deviation of its
half-width / 1.96. The stops of the sources of a light add; the light of all adds at a point, each by its share. What all
light has in common ("whole") comes on top.
"""

import json
import os
import sys

import numpy as np

DRAWS = 100_000
SIGMAS = 1.96
SETS = 200


def half_widths(rng):
    """Even or uneven, 0.05 to 1.5 stops."""
    width = lambda: round(float(np.exp(rng.uniform(np.log(0.05), np.log(1.5)))), 3)
    even = width()
    return [even, even] if rng.random() < 0.5 else [width(), width()]


def make(rng, index):
    lights, points = index % 8 + 1, int(rng.integers(1, 5))
    shares = np.exp(rng.uniform(np.log(0.02), 0, (points, lights)))
    shares = np.maximum(shares / shares.sum(1, keepdims=True), 0.02)
    shares = np.round(shares / shares.sum(1, keepdims=True), 4)
    shares[:, 0] += 1 - shares.sum(1)
    case = {"shares": np.round(shares, 4).tolist(), "own": [], "common": [], "each_point": [], "whole": 0.0}
    for light in range(lights):
        for _ in range(int(rng.integers(1, 4))):
            case["own"].append([light, *half_widths(rng)])
        case["each_point"].append(round(float(rng.uniform(0.05, 0.3)), 3))
    if lights > 1 and rng.random() < 0.5:
        pair = sorted(int(light) for light in rng.choice(lights, 2, replace=False))
        case["common"].append([pair, *half_widths(rng)])
    case["whole"] = float(rng.choice([0.06, 0.2]))
    case["errors"] = np.round(rng.normal(0, 0.15, points), 3).tolist()
    case["tolerance"] = float(rng.choice([0.2, 0.333, 0.5, 1.0]))
    return case


def draw(rng, low, high):
    deviates = rng.standard_normal(DRAWS)
    return deviates / SIGMAS * np.where(deviates > 0, high, low)


def answer(rng, case):
    shares = np.array(case["shares"])
    points, lights = shares.shape
    stops = np.zeros((lights, DRAWS))
    for light, low, high in case["own"]:
        stops[light] += draw(rng, low, high)
    for pair, low, high in case["common"]:
        stops[pair] += draw(rng, low, high)
    whole = draw(rng, case["whole"], case["whole"])
    errors = np.zeros((points, DRAWS))
    for point in range(points):
        each = [draw(rng, width, width) for width in case["each_point"]]
        light = sum(shares[point, light] * 2 ** (stops[light] + each[light]) for light in range(lights))
        errors[point] = np.log2(light) + whole
    ends = np.quantile(errors, [0.025, 0.975], axis=1).T
    within = np.abs(errors + np.array(case["errors"])[:, None]) <= case["tolerance"]
    case["ends"] = np.round(ends, 4).tolist()
    case["chances"] = np.round(within.mean(1), 4).tolist()
    case["chance"] = round(float(within.all(0).mean()), 4)
    ratio = errors[-1] - errors[0]
    case["ratio_ends"] = np.round(np.quantile(ratio, [0.025, 0.975]), 4).tolist()
    return case


def main():
    rng = np.random.default_rng(2026)
    cases = [answer(rng, make(rng, index)) for index in range(SETS)]
    source = f"NumPy {np.__version__}: {DRAWS} draws a set, default_rng(2026); made by tests/data/uncertainty.py"
    path = os.path.join(os.path.dirname(os.path.abspath(__file__)), "uncertainty.json")
    with open(path, "w", encoding="utf-8") as file:
        lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
        file.write(f'{{"source": {json.dumps(source)}, "sets": [\n{lines}\n]}}\n')
    print(os.path.getsize(path), "bytes", file=sys.stderr)


if __name__ == "__main__":
    main()
