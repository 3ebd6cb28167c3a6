#!/usr/bin/env python3
"""The service's `stops/convert` against a bare handler (bare.rs): turn and turn about, on loopback.

    cargo build --release --bin stopwright --example bare
    benches/load/run.py [--rounds 9] [--seconds 3] [--connections 64] [--against OTHER_BINARY]

Three services: as it starts without flags; with CORS for the page that asks, counts, and the log as JSON; and with a
key and a rate limit as well. Wants Linux and wrk (a Debian package). Nothing is pinned to a core: a generator that has
one for itself sleeps after each answer, and on a virtual machine waking it costs the server more than answering.

With `--against`, a second binary of the service, from another commit, takes its turns with everything on as well.

It prints medians of the rounds and of their ratios to the bare handler: throughput, 99th percentile, processor time a
request; with `--against` also the ratios of this binary to the other one. Then what stands alone: time from start to the first answer, and resident memory idle and under this load.
"""

import argparse
import atexit
import hashlib
import json
import os
import re
import signal
import statistics
import subprocess
import tempfile
import time
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KEY = "0123456789abcdef" * 4
ORIGIN = "https://set.example"
QUESTION = json.dumps({"from": "f/8", "to": "f/11"})
POST = f"""
wrk.method = "POST"
wrk.body = '{QUESTION}'
wrk.headers["Content-Type"] = "application/json"
wrk.headers["Authorization"] = "Bearer {KEY}"
wrk.headers["Origin"] = "{ORIGIN}"
"""
PATH = "/v1/stops/convert"
TICKS = os.sysconf("SC_CLK_TCK")


class Server:
    """One of them, on a free port."""

    def __init__(self, command):
        self.begun = time.monotonic()
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        # So that none stays where a round fails.
        atexit.register(self.process.kill)
        self.address = self.process.stdout.readline().split()[-1]

    def ask(self):
        request = urllib.request.Request(
            self.address + PATH,
            QUESTION.encode(),
            {"Content-Type": "application/json", "Authorization": f"Bearer {KEY}"},
        )
        with urllib.request.urlopen(request) as answer:
            return answer.read()

    def cpu_seconds(self):
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / TICKS

    def resident_mib(self, what="VmRSS"):
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(rf"{what}:\s+(\d+)", status)[1]) / 1024

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        self.process.wait()


def in_seconds(text):
    value, unit = re.fullmatch(r"([\d.]+)(us|ms|s)", text).groups()
    return float(value) * {"us": 1e-6, "ms": 1e-3, "s": 1}[unit]


def wrk(server, path, arguments, *options):
    """One round of wrk: requests a second, processor time a request in us, and all that it told."""
    before = server.cpu_seconds()
    told = subprocess.run(
        ["wrk", "-t1", f"-c{arguments.connections}", f"-d{arguments.seconds}s", *options, server.address + path],
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    spent = server.cpu_seconds() - before
    if "Non-2xx" in told or "Socket errors" in told:
        raise SystemExit(told)
    requests = int(re.search(r"(\d+) requests in", told)[1])
    return float(re.search(r"Requests/sec:\s+([\d.]+)", told)[1]), spent / requests * 1e6, told


def load(server, script, arguments):
    """One round of wrk: requests a second, 99th percentile, processor time a request."""
    rate, cpu_us, told = wrk(server, PATH, arguments, "--latency", "-s", script)
    return {
        "requests/s": rate,
        "p99 ms": in_seconds(re.search(r"(?m)^\s+99%\s+(\S+)", told)[1]) * 1e3,
        "cpu us": cpu_us,
    }


def first_answers(command, times=11):
    """Median time from start to the first answer."""
    taken = []
    for _ in range(times):
        server = Server(command)
        server.ask()
        taken.append(time.monotonic() - server.begun)
        server.stop()
    return statistics.median(taken)


def report(name, measured, base):
    """Medians of the rounds, and of the ratios to another side's rounds."""
    print(f"{name}:")
    for what in measured[0]:
        ratios = [a[what] / b[what] for a, b in zip(measured, base)]
        print(
            f"  {what:>10}: {statistics.median(a[what] for a in measured):10.2f}"
            f"  ratio {statistics.median(ratios):.3f}  ({min(ratios):.3f} to {max(ratios):.3f})"
        )


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--seconds", type=int, default=3)
    parser.add_argument("--connections", type=int, default=64)
    parser.add_argument("--against", help="another binary of the service")
    arguments = parser.parse_args()
    keys, script = tempfile.NamedTemporaryFile("w"), tempfile.NamedTemporaryFile("w", suffix=".lua")
    keys.write(f"bench {hashlib.sha256(KEY.encode()).hexdigest()}\n")
    script.write(POST)
    keys.flush(), script.flush()
    plain = [str(ROOT / "target/release/stopwright"), "serve", "--listen", "127.0.0.1:0"]
    seen = ["--cors-origin", ORIGIN, "--metrics-listen", "127.0.0.1:0", "--log-format", "json"]
    guarded = ["--keys-file", keys.name, "--rate-limit", "1000000"]
    sides = {
        "bare": Server([str(ROOT / "target/release/examples/bare")]),
        "plain": Server(plain),
        "with CORS, counts, log": Server(plain + seen),
        "and a key, a rate limit": Server(plain + seen + guarded),
    }
    full = sides["and a key, a rate limit"]
    if arguments.against:
        sides["the other binary, everything on"] = Server([arguments.against] + plain[1:] + seen + guarded)
    print(f"answers of {len(full.ask())} and {len(sides['bare'].ask())} bytes")
    idle = full.resident_mib()
    rounds = {name: [] for name in sides}
    for number in range(arguments.rounds):
        # The first of a round changes, so that none is always warmer.
        for name in list(sides)[:: 1 if number % 2 else -1]:
            rounds[name].append(load(sides[name], script.name, arguments))
    for name, measured in rounds.items():
        report(name, measured, rounds["bare"])
    if arguments.against:
        mine, other = rounds["and a key, a rate limit"], rounds["the other binary, everything on"]
        report("this binary to the other, everything on", mine, other)
    peak = full.resident_mib("VmHWM")
    for server in sides.values():
        server.stop()
    print(f"memory of the service: {idle:.1f} MiB idle, {peak:.1f} MiB at most under the load")
    print(f"start to first answer: {first_answers(plain) * 1e3:.1f} ms (median of 11)")


if __name__ == "__main__":
    main()
