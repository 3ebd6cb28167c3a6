#!/usr/bin/env python3
"""The simplest questions against `stops/convert`, all by GET from one server, turn and turn about, on loopback.

    cargo build --release --bin stopwright
    benches/load/questions.py [--rounds 7] [--seconds 2] [--connections 64]

Wants Linux and wrk (a Debian package), as run.py does. It prints medians of the rounds, and of their ratios to the
conversion's rounds: throughput, and processor time a request.
"""

import argparse
import statistics

from run import ROOT, Server, wrk

BASE = "stops/convert?from=f/8&to=f/11"
QUESTIONS = [
    BASE,
    "readings/combine?add=f/8,f/5.6",
    "readings/ratio?key=f/11&fill=f/8",
    "exposure/compare?from[f_number]=f/8&from[exposure_time]=1/125&to[f_number]=f/11",
    "lens/close-up?magnification=1:2&f_number=f/8",
    "lights/softness?source[disc_m]=0.9&distance=1.5%20m",
    "patches/level?reflectance=90%25",
    "exposure/one-light?guide_number=GN%2040&distance=5%20m",
    "ask?q=f/8%20to%20f/11",
]


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--seconds", type=int, default=2)
    parser.add_argument("--connections", type=int, default=64)
    arguments = parser.parse_args()
    server = Server([str(ROOT / "target/release/stopwright"), "serve", "--listen", "127.0.0.1:0"])
    rounds = {question: [] for question in QUESTIONS}
    for number in range(arguments.rounds):
        # The first of a round changes, so that none is always warmer.
        for question in QUESTIONS[:: 1 if number % 2 else -1]:
            rounds[question].append(wrk(server, f"/v1/{question}", arguments)[:2])
    server.stop()
    for question, measured in rounds.items():
        throughput, cpu = zip(*measured)
        ratios = [[a[i] / b[i] for a, b in zip(measured, rounds[BASE])] for i in (0, 1)]
        print(
            f"{question.split('?')[0]:20} {statistics.median(throughput):9.0f}/s"
            f"  ratio {statistics.median(ratios[0]):.3f} ({min(ratios[0]):.3f} to {max(ratios[0]):.3f})"
            f"  cpu {statistics.median(cpu):6.1f} us  ratio {statistics.median(ratios[1]):.3f}"
        )


if __name__ == "__main__":
    main()
