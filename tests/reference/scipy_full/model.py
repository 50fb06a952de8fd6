#!/usr/bin/env python3
"""The full model from the numbers of `tickover model --json` alone.

    tickover model SCENARIO --json > FILE;  python3 model.py FILE [--tolerance 1e-11]

Prints the events and, as JSON on the last line, how it ends.
"""
import argparse
import json

from logic import Run
from params import CASE, HB, IN_JOINT, IN_WIRE, LEDGERS, OUT_JOINT, OUT_WIRE, S, SB, STATES, TEMP, WINDING


def result(run):
    ledger = {}
    for name, value in zip(LEDGERS, run.y[STATES:].tolist()):
        ledger[name[:-1] + ("ah" if name.endswith("_c") else "wh")] = value / 3600
    return {"events": run.events, "starter_soc": float(run.y[SB + S]), "house_soc": float(run.y[HB + S]),
            "ledger": ledger, "steps": run.counts.tolist(),
            "temperatures_c": {"alternator winding": float(run.y[WINDING]), "house battery": float(run.y[HB + TEMP]),
                               "starter battery": float(run.y[SB + TEMP]), "unit case": float(run.y[CASE]),
                               "input cable in the engine bay": float(run.y[IN_WIRE]),
                               "input cable in the cabin": float(run.y[IN_WIRE + 2]),
                               "joints of the input cable": float(run.y[IN_JOINT]),
                               "output cable": float(run.y[OUT_WIRE]),
                               "joints of the output cable": float(run.y[OUT_JOINT])}}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file")
    parser.add_argument("--tolerance", type=float, default=1e-11)
    given = parser.parse_args()
    with open(given.file) as file:
        told = json.load(file)
    found = result(Run(told, given.tolerance).run())
    for t, *words in found.pop("events"):
        print(f"{t * 1e-9:16.6f}", *words)
    print(json.dumps(found))


if __name__ == "__main__":
    main()
