"""Shortest input cable at which the unit keeps hunting, by bisecting whole runs.

`python3 critical_length.py SCENARIO [--set key.path=value ...] [--low-m 4] [--high-m 20] [--within-m 0.001]`
Hunting: two or more turn-offs later than 25 min (`--after-s`) and not after the last key-off.
"""
import argparse
import sys

from scenario import ScenarioError, load
from simulate import Simulation


def late_offs(path, settings, length_m, after_s, rtol):
    """Turn-offs while driving: all of them, and those later than `after_s`."""
    sim = Simulation(load(path, [*settings, f"input_cable.length_m={length_m!r}"]), rtol).run()
    stops = [t for t, what in sim.logic.events if what == "key_off"]
    last_s = stops[-1] if stops else sim.end_s
    offs = [t for t, what in sim.logic.events if what == "unit_off" and t <= last_s]
    return len(offs), sum(t > after_s for t in offs)


def main():
    parser = argparse.ArgumentParser(description="Input cable length at which sustained hunting begins.")
    parser.add_argument("scenario")
    parser.add_argument("--set", action="append", default=[], metavar="KEY.PATH=VALUE", dest="settings")
    parser.add_argument("--low-m", type=float, default=4.0)
    parser.add_argument("--high-m", type=float, default=20.0)
    parser.add_argument("--within-m", type=float, default=1e-3)
    parser.add_argument("--after-s", type=float, default=1500.0)
    parser.add_argument("--rtol", type=float, default=1e-10)
    given = parser.parse_args()

    def look(length_m):
        offs, late = late_offs(given.scenario, given.settings, length_m, given.after_s, given.rtol)
        print(f"{length_m:10.5f} m: {offs} offs while driving, {late} of them late", file=sys.stderr)
        return late >= 2

    low, high = given.low_m, given.high_m
    try:
        if look(low) or not look(high):
            print("the border is not between --low-m and --high-m", file=sys.stderr)
            return 1
        while high - low > given.within_m:
            mid = (low + high) / 2
            low, high = (low, mid) if look(mid) else (mid, high)
    except ScenarioError as fault:
        print(fault, file=sys.stderr)
        return 2
    print(f"sustained hunting begins between {low:.5f} m and {high:.5f} m")
    return 0


if __name__ == "__main__":
    sys.exit(main())
