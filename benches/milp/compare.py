"""Sets our search against a general-purpose MILP solver, on the same instances.

    pip install highspy
    python3 benches/milp/compare.py            # compares, prints ratios
    python3 benches/milp/compare.py --write    # also keeps the optima it found, as test data

The MILP has a binary for each setting of each light. The worst error is found by bisection: a worst error
turns the points into linear rows, and each feasible answer's own worst error is the new upper end. A one-sided target
is a row with one end; a limit is a row whose end stays.
"""

import argparse
import json
import math
import pathlib
import statistics
import subprocess
import time

import highspy

ROOT = pathlib.Path(__file__).resolve().parents[2]
DATA = ROOT / "tests" / "data" / "balance_instances.json"
CLOSE = 1e-7


def powers(instance):
    settings = [2.0 ** (-k * instance["click_stops"]) for k in range(instance["settings"])]
    return settings + [0.0] if instance["may_be_off"] else settings


def worst_error(instance, choice):
    power = powers(instance)
    worst = 0.0
    for point in instance["points"]:
        light = point["ambient"] + sum(g * power[choice[l]] for l, g in enumerate(point["gain"]))
        stops = math.log2(light / point["target"]) if light > 0.0 else -60.0
        counts = {"both": True, "at_most": stops > 0.0, "at_least": stops < 0.0, "limit": False}
        if counts[point.get("sides", "both")]:
            worst = max(worst, point["weight"] * abs(stops))
    return worst


class Model:
    """Binaries and rows are made once; a bisection step only moves the rows' ends."""

    def __init__(self, instance):
        self.instance = instance
        self.highs = highspy.Highs()
        self.highs.setOptionValue("output_flag", False)
        self.highs.setOptionValue("mip_feasibility_tolerance", 1e-9)
        self.highs.setOptionValue("primal_feasibility_tolerance", 1e-9)
        inf = highspy.kHighsInf
        self.index = []
        power = powers(instance)
        for _ in range(instance["lights"]):
            self.index.append([])
            for _ in power:
                column = self.highs.getNumCol()
                self.highs.addVar(0.0, 1.0)
                self.highs.changeColIntegrality(column, highspy.HighsVarType.kInteger)
                self.index[-1].append(column)
        for columns in self.index:
            self.highs.addRow(1.0, 1.0, len(columns), columns, [1.0] * len(columns))
        self.first = self.highs.getNumRow()
        for point in instance["points"]:
            columns, values = [], []
            for l, gain in enumerate(point["gain"]):
                for column, part in zip(self.index[l], power, strict=True):
                    if gain * part > 0.0:
                        columns.append(column)
                        values.append(gain * part / point["target"])
            self.highs.addRow(-inf, inf, len(columns), columns, values)

    def within(self, worst):
        """A choice within a worst error, or None."""
        for p, point in enumerate(self.instance["points"]):
            factor = 2.0 ** (worst / point["weight"])
            ambient = point["ambient"] / point["target"]
            sides = point.get("sides", "both")
            least = 1.0 / factor - ambient if sides in ("both", "at_least") else -highspy.kHighsInf
            most = {"at_least": highspy.kHighsInf, "limit": 1.0 - ambient}.get(sides, factor - ambient)
            self.highs.changeRowBounds(self.first + p, least, most)
        self.highs.clearSolver()
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self.highs.getSolution().col_value
        return [max(range(len(columns)), key=lambda k: solution[columns[k]]) for columns in self.index]


def solve(instance):
    model = Model(instance)
    low, high = 0.0, 20.0
    best = None
    while high - low > 2.0 * CLOSE:
        # Near the end, just under what is known, so that the last step is the proof.
        middle = 0.5 * (low + high) if high - low > 1e-3 else high - CLOSE
        choice = model.within(middle)
        if choice is None:
            low = middle
        else:
            best, high = choice, min(middle, worst_error(instance, choice))
    return best, high


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="keep the optima found")
    arguments = parser.parse_args()
    data = json.loads(DATA.read_text())
    command = ["cargo", "bench", "--quiet", "--bench", "balance", "--", "--instances", str(DATA)]
    ours = json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)
    ratios = {}
    for instance, own in zip(data["instances"], ours, strict=True):
        begun = time.perf_counter()
        _, worst = solve(instance)
        seconds = time.perf_counter() - begun
        assert own["proven"], instance["name"]
        assert abs(worst - own["worst_stops"]) < 1e-5, (instance["name"], worst, own)
        group = instance["name"].rsplit(" ", 1)[0]
        ratios.setdefault(group, []).append(seconds / own["seconds"])
        print(f"{instance['name']}: {worst:.7f} stop, {seconds:.3f} s against {own['seconds']:.6f} s", flush=True)
        instance["optimum_stops"] = worst
    for group, values in ratios.items():
        print(f"{group}: {statistics.median(values):.0f} times faster (median of {len(values)})")
    if arguments.write:
        data["solver"] = f"HiGHS {highspy.Highs().version()}, bisection over the worst error"
        lines = ",\n".join(json.dumps(instance) for instance in data.pop("instances"))
        head = json.dumps(data)[:-1]
        DATA.write_text(f'{head}, "instances": [\n{lines}\n]}}\n')


if __name__ == "__main__":
    main()
