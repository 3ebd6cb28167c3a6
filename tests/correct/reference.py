#!/usr/bin/env python3
"""Writes reference.json: what readings of lights together say of each, in NumPy, for src/light/correct/tests.rs.

An independent way to the same numbers: the primal form, with the whole covariance of all pairs of light and point written
out, and the maximum found by Gauss-Newton steps with a line search on the posterior density.

    python3 -m venv venv && venv/bin/pip install numpy==2.4.6 && venv/bin/python reference.py > reference.json
"""
import json

import numpy as np

COVERAGE = 1.96


def case(rng, lights, points, rounds, common):
    half = np.exp(rng.uniform(np.log(0.2), np.log(1.4), lights))
    shared = rng.uniform(0.2, 0.6, 2) if common else []
    pairs = rng.uniform(0.2, 0.4, (lights, points))
    dial, repeat = 0.1, 0.06
    level = rng.normal(6.0, 1.3, (lights, points))
    # Lights that do not reach a point.
    level[rng.random((lights, points)) < 0.15] = -np.inf
    level[np.arange(lights), np.arange(lights) % points] = 6.0
    own = np.diag((half / COVERAGE) ** 2)
    for value in shared:
        own[:2, :2] += (value / COVERAGE) ** 2
        break
    error = rng.multivariate_normal(np.zeros(lights), own)
    truth = error[:, None] + rng.normal(size=(lights, points)) * pairs / COVERAGE
    readings = []
    last = rounds - 1
    below = [np.round(rng.uniform(0, 3, lights), 1) for _ in range(rounds)]
    for number in range(rounds):
        for point in range(points):
            on = np.ones(lights, bool)
            if point == points - 1 and number == 0:
                on[1:] = False
                if level[0, point] == -np.inf:
                    on[:] = True
            light = np.where(on, np.exp2(level[:, point] - below[number]), 0.0)
            ambient = 4.0 if point == 0 else 0.0
            total = ambient + (light * np.exp2(truth[:, point])).sum()
            stops = np.round((np.log2(total) + rng.normal() * 0.07) * 10) / 10
            readings.append(
                {
                    "round": number,
                    "point": point,
                    "light": light.tolist(),
                    "redialled": [bool(then != now) for then, now in zip(below[number], below[last])],
                    "ambient": ambient,
                    "stops": float(stops),
                    "variance": (0.12 / COVERAGE) ** 2 + 0.1**2 / 12,
                }
            )
    return {
        "own": half.tolist(),
        "common": [float(shared[0])] * 2 if common else [],
        "pairs": pairs.tolist(),
        "dial": dial,
        "repeat": repeat,
        "readings": readings,
        "at": np.where(np.isinf(level), 0.0, np.exp2(level - below[last][:, None])).tolist(),
    }


def solve(case):
    lights, points = len(case["own"]), len(case["pairs"][0])
    own = np.diag((np.array(case["own"]) / COVERAGE) ** 2)
    if case["common"]:
        own[:2, :2] += (case["common"][0] / COVERAGE) ** 2
    # All pairs of light and point, light by light.
    prior = np.kron(own, np.ones((points, points))) + np.diag((np.array(case["pairs"]).ravel() / COVERAGE) ** 2)
    readings = case["readings"]
    count = len(readings)
    stops = np.array([reading["stops"] for reading in readings])

    def model(z):
        z = z.reshape(lights, points)
        f, jacobian = np.zeros(count), np.zeros((count, lights, points))
        for index, reading in enumerate(readings):
            light = np.array(reading["light"]) * np.exp2(z[:, reading["point"]])
            total = reading["ambient"] + light.sum()
            f[index] = np.log2(total)
            jacobian[index, :, reading["point"]] = light / total
        return f, jacobian.reshape(count, -1)

    def noise(jacobian):
        shares = jacobian.reshape(count, lights, points).sum(2)
        covariance = np.diag([reading["variance"] for reading in readings])
        covariance += np.diag((shares**2).sum(1) * (case["repeat"] / COVERAGE) ** 2)
        for one, a in enumerate(readings):
            for other, b in enumerate(readings):
                if a["round"] == b["round"]:
                    again = np.array(a["redialled"])
                    covariance[one, other] += (shares[one] * shares[other] * again).sum() * (
                        case["dial"] / COVERAGE
                    ) ** 2
        return covariance

    z = np.zeros(lights * points)
    precision = np.linalg.inv(prior)
    for _ in range(200):
        f, jacobian = model(z)
        weight = np.linalg.inv(noise(jacobian))
        hessian = precision + jacobian.T @ weight @ jacobian
        step = np.linalg.solve(hessian, jacobian.T @ weight @ (stops - f) - precision @ z)
        z = z + step * min(1.0, 1.0 / np.abs(step).max())
        if np.abs(step).max() < 1e-10:
            break
    f, jacobian = model(z)
    covariance_of_noise = noise(jacobian)
    posterior = np.linalg.inv(precision + jacobian.T @ np.linalg.inv(covariance_of_noise) @ jacobian)
    # Of the lights: their covariance with all pairs, given the pairs.
    with_pairs = np.kron(own, np.ones(points))
    gain = with_pairs @ precision
    of_lights = own - gain @ with_pairs.T + gain @ posterior @ gain.T
    left = stops - f
    marginal = covariance_of_noise + jacobian @ prior @ jacobian.T
    evidence = -0.5 * (
        left @ np.linalg.solve(covariance_of_noise, left)
        + z @ precision @ z
        + np.linalg.slogdet(marginal)[1]
        + count * np.log(2 * np.pi)
    )
    # What a reading of a light alone at a point leaves of the variance at each point, at the last settings.
    at = np.array(case["at"]) * np.exp2(z.reshape(lights, points))
    shares = at / at.sum(0)
    rows = np.zeros((points, lights, points))
    for point in range(points):
        rows[point, :, point] = shares[:, point]
    rows = rows.reshape(points, -1)
    now = np.einsum("pi,ij,pj->p", rows, posterior, rows)
    reading = readings[0]["variance"] + (case["repeat"] / COVERAGE) ** 2
    then = []
    for pair in range(lights * points):
        s = posterior[:, pair]
        after = posterior - np.outer(s, s) / (posterior[pair, pair] + reading)
        then.append(np.einsum("pi,ij,pj->p", rows, after, rows).tolist())
    return {
        "pairs": z.reshape(lights, points).tolist(),
        "lights": (gain @ z).tolist(),
        "covariance": of_lights.tolist(),
        "left_over": left.tolist(),
        "evidence": float(evidence),
        "variances": now.tolist(),
        "then": then,
    }


def worst(variances, rng):
    draws = rng.normal(size=(400_000, len(variances))) * np.sqrt(variances)
    return float(np.abs(draws).max(1).mean())


def rounded(value):
    if isinstance(value, dict):
        return {name: rounded(item) for name, item in value.items()}
    if isinstance(value, list):
        return [rounded(item) for item in value]
    return float(f"{value:.12g}") if isinstance(value, float) else value


def main():
    rng = np.random.default_rng(18)
    cases = []
    for lights, points, rounds, common in [(2, 2, 1, False), (3, 3, 1, True), (4, 3, 2, False), (5, 6, 2, True)]:
        asked = case(rng, lights, points, rounds, common)
        # Answers are those of what is written.
        asked = rounded(asked)
        cases.append({"asked": asked, "answer": rounded(solve(asked))})
    sets = [[0.04], [0.01, 0.04, 0.09], [0.02] * 6, [0.001, 0.2, 0.05, 0.01, 0.08], [0.03] * 64]
    worsts = [{"variances": one, "worst": round(worst(one, rng), 4)} for one in sets]
    print(json.dumps({"numpy": np.__version__, "cases": cases, "worsts": worsts}))


main()
