#!/usr/bin/env python3
"""Random plain vehicles through the Rust program and the independent SciPy program: the same event sequences?

    python3 sample.py path/to/tickover path/to/wild_toml [--from SEED] [--number N] [--default] [--keep FOLDER]

`wild_toml` is the example of the tests package that writes them (`cargo build --release -p sim-tests --example wild_toml`).
Times agree to 5 microseconds or what 5e-8 V of the watched volts are worth; states of charge to 1e-9. `--default` runs the
Rust program at its default tolerance; then 10 ms and 1e-6. Exit 0 when every vehicle agrees, 1 when one does not.
"""

import argparse
import pathlib
import subprocess
import sys
import tempfile

import compare

TIGHT = (5e-6, 1e-9)
DEFAULT = (1e-2, 2e-6)


def common(events):
    """Without what only one of the programs calls an event: a battery that is full from the first instant, and
    the end of cranking where the engine is stopped before it has started."""
    stops = {round(t, 4) for t, what in events if what == "key_off"}
    return compare.order([
        (t, what) for t, what in events
        if not (t == 0 and what.endswith("_full"))
        and not (what == "crank_end" and round(t, 4) in stops)])


def one(program, scenario, tolerance):
    """Same sequence, worst time and worst state of charge of one vehicle; and both sequences."""
    with tempfile.TemporaryDirectory() as folder:
        summary, ours = compare.ours(program, scenario, [], pathlib.Path(folder), tolerance)
    result, theirs = compare.theirs(scenario, [])
    a, b = common(ours), common(theirs)
    same = [w for _, w in a] == [w for _, w in b]
    time = max((abs(x[0] - y[0]) for x, y in zip(a, b)), default=0.0) if same else float("nan")
    s = summary["summary"]
    soc = max(abs(s["house_end_soc"] - result["house_soc"]), abs(s["starter_end_soc"] - result["starter_soc"]))
    return same, time, soc, a, b


def main():
    parser = argparse.ArgumentParser(description="Random plain vehicles against SciPy.")
    parser.add_argument("program")
    parser.add_argument("writer")
    parser.add_argument("--from", type=int, default=0, dest="first")
    parser.add_argument("--number", type=int, default=40)
    parser.add_argument("--default", action="store_true", help="the Rust program at its default tolerance")
    parser.add_argument("--keep", help="folder for the scenario files")
    given = parser.parse_args()
    (time_s, most_soc), tolerance = (DEFAULT, "1e-8") if given.default else (TIGHT, "1e-11")
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(given.keep or scratch)
        folder.mkdir(parents=True, exist_ok=True)
        subprocess.run([given.writer, str(folder), str(given.first), str(given.number)], check=True)
        agree = events = 0
        worst = [0.0, 0.0]
        for seed in range(given.first, given.first + given.number):
            same, time, soc, a, b = one(given.program, folder / f"wild-{seed}.toml", tolerance)
            good = same and time <= time_s and soc <= most_soc
            agree += good
            events += len(b)
            if same:
                worst = [max(worst[0], time), max(worst[1], soc)]
            if not good:
                print(f"FAIL seed {seed}: {len(a)} against {len(b)} events, times {time:.1e} s, SOC {soc:.1e}")
            if not same:
                n = next((k for k, (x, y) in enumerate(zip(a, b)) if x[1] != y[1]), min(len(a), len(b)))
                print(f"     first difference at number {n}: {a[n:n + 3]} against {b[n:n + 3]}")
    print(f"worst where sequences agree: {worst[0]:.1e} s, {worst[1]:.1e} SOC")
    print(f"scipy sample: {agree} of {given.number} vehicles agree, {events} events")
    return 0 if agree == given.number else 1


if __name__ == "__main__":
    sys.exit(main())
