#!/usr/bin/env python3
"""Compares the program with the independent one of the full model, scenario by scenario.

    python3 compare.py TICKOVER [--bite] [--weeks] [--only WORD] [--wild FIRST COUNT]

The only thing shared is what `tickover model --json` prints of a scenario. Event sequences must be the same, word by
word; times agree to a millisecond, states of charge and every line of the ledger to a millionth of the battery's
capacity (energies: of the capacity times 12 V), temperatures at the end to a thousandth of a kelvin.
Shipped scenarios and faults of up to a day, then random vehicles; `--weeks` takes the longer ones in their place.
`--bite` changes one number of this side alone, group by group, and expects that each is noticed.
Exit 0 when every case is as expected, 1 when one is not, 2 when a program cannot be run.
"""
import argparse
import csv
import json
import pathlib
import subprocess
import sys
import tempfile
import time
import tomllib

import wild
from bites import BITES, turned
from logic import Chatter, Run
from model import result

HERE = pathlib.Path(__file__).resolve().parent
SCENARIOS = HERE.parents[2] / "scenarios"
TIME_S, CHARGE, KELVIN = 1e-3, 1e-6, 1e-3
DAY_S = 86_400
LONGEST_S = 120          # of a run of the program: what takes longer has failed
TOLERANCE = "1e-10"
# The program does not end its steps where a lead-acid battery's current turns, so this line has a kink inside them.
LINES = {"starter_battery_out_ah": 1e-5}

# Changes to reference-van-full.toml that reach what shipped scenarios do not.
PARTS = [
    ("source kink", ["vehicle.crank_s=0", "starter_battery.r0_mohm=100", "input_cable.length_m=60", "alternator.asymptote_a=72",
                     "alternator.pick_up_a_per_s=0", "start_stop.turn_on_v=12.5", "start_stop.turn_off_v=5",
                     "converter.input_limit_a=200", "converter.output_limit_a=60"]),
    ("source peak", ["input_cable.length_m=60", "start_stop.turn_off_v=5", "converter.input_limit_a=200"]),
    ("starved", ["input_cable.length_m=60", "start_stop.turn_off_v=5", "converter.input_floor_v=14.1"]),
    ("heat locks it out, and it comes back", ["drive.air_c=50", "converter.locker_w_per_k=0.7", "converter.lock_c=80",
                                              "converter.reclose_c=78", "converter.derate_to_c=120"]),
    ("input cable opens under a live signal", ["start_stop.signal=either", "drive.piece=[{duration_min=20,engine_rpm=2000},"
                                               "{duration_min=9,engine_rpm=2000,input_cable=\"open\"},"
                                               "{duration_min=9,engine_rpm=2000}]"]),
    ("fuse of the output cable", ["output_cable.fuse_a=32", "output_cable.fuse_kind=iso-8820-3-f"]),
    ("stage goes on where it left", ["house_battery.start_pct=97", "stages.turn_on_begins=where-it-left",
                                     "start_stop.turn_off_delay_s=0", "stages.recharge_v=13.45",
                                     "drive.piece=[{duration_min=30,engine_rpm=2000},{duration_s=60,engine_rpm=0},"
                                     "{duration_min=10,engine_rpm=2000},{duration_min=30,engine_rpm=2000,house_load_w=900}]"]),
    ("volts too high by current alone", ["house_battery.r0_mohm=25", "protection.high_v=14",
                                         "protection.high_release_v=13.6"]),
    ("starter side collapses and returns", ["starter_battery.start_pct=1", "vehicle.parked_load_a=40",
                                            "drive.piece.1.duration_s=600", "vehicle.loads_return_v=12.6"]),
    ("collapse under the unit", ["starter_battery.start_pct=2", "start_stop.turn_off_v=2", "start_stop.turn_on_v=11",
                                 "alternator.asymptote_a=20"]),
    ("stopped while it builds up and while it cranks", [
        "alternator.build_up_s=6", "drive.piece=[{duration_s=60,engine_rpm=0},{duration_s=4,engine_rpm=900},"
        "{duration_s=30,engine_rpm=0},{duration_s=0.5,engine_rpm=900},{duration_s=30,engine_rpm=0},"
        "{duration_min=20,engine_rpm=2000},{duration_min=10,engine_rpm=0}]"]),
    ("no cranking and no pick-up", ["vehicle.crank_s=0", "alternator.pick_up_a_per_s=0", "starter_battery.place=bay"]),
    ("shallow rule in town, with stop-start", ["alternator.regulation=variable-shallow", "gears.stop_start=yes",
                                               "drive.piece=[{file=\"drives/udds.csv\"}]"]),
    ("deep rule in town, with stop-start", ["alternator.regulation=variable-deep", "gears.stop_start=yes", "vehicle.crank_s=0.4",
                                            "alternator.start_up_s=60", "drive.piece=[{file=\"drives/udds.csv\"}]"]),
    ("compensated by the air, cold", ["alternator.compensated_by=air", "drive.air_c=-8"]),
    ("mat on a shed bus", ["house_battery.start_c=-10", "protection.heater_w=100", "house_battery.start_pct=0",
                           "house.load_w=200", "house_solar.power_w=120"]),
]


class Stuck(Exception):
    pass


def ask(*command):
    try:
        done = subprocess.run([str(c) for c in command], capture_output=True, text=True, timeout=LONGEST_S)
    except subprocess.TimeoutExpired:
        raise Stuck(f"the program is not done after {LONGEST_S} s")
    if done.returncode not in (0, 3):
        print(" ".join(map(str, command)), done.stderr, sep="\n", file=sys.stderr)
        sys.exit(2)
    return done.stdout


def told(program, file, changes):
    return json.loads(ask(program, "model", file, "--json", *sets(changes)))


def sets(changes):
    return [word for change in changes for word in ("--set", change)]


def program_says(program, file, changes):
    with tempfile.TemporaryDirectory() as folder:
        ask(program, "run", file, *sets(changes), "--tolerance", TOLERANCE, "--out", folder, "--plot", "none",
            "--quiet")
        summary = json.loads((pathlib.Path(folder) / "summary.json").read_text())
        with open(pathlib.Path(folder) / "events.csv", newline="") as rows:
            events = [(float(r["time_s"]), r["what"], r["from"], r["to"]) for r in csv.DictReader(rows)]
    return summary, events


class Difference:
    """How far two results of one scenario are from each other."""

    def __init__(self, numbers, summary, events, found):
        theirs = [(t * 1e-9, what, a, b) for t, what, a, b in found["events"]]
        self.count, self.first = len(events), None
        for n in range(max(len(events), len(theirs))):
            a, b = events[n:n + 1], theirs[n:n + 1]
            if not a or not b or a[0][1:] != b[0][1:]:
                self.first = f"event {n}: program {events[n:n + 3]}, here {theirs[n:n + 3]}"
                break
        times = [(abs(a[0] - b[0]), a) for a, b in zip(events, theirs)]
        self.time, self.when = max(times, default=(0.0, None))
        s = summary["summary"]
        ah = {"starter": numbers["starter"], "house": numbers["house"]}
        least = min(ah.values())
        self.charge, self.line = max(
            (abs(s["starter_end_soc"] - found["starter_soc"]), "starter SOC"),
            (abs(s["house_end_soc"] - found["house_soc"]), "house SOC"),
            *((abs(summary["ledger"][name] - value) / (least if name.endswith("_ah") else 12 * least)
               * CHARGE / LINES.get(name, CHARGE), name)
              for name, value in found["ledger"].items()))
        self.kelvin, self.part = max((abs(summary["temperatures_c"][name]["end"] - value), name)
                                     for name, value in found["temperatures_c"].items()
                                     if name in summary["temperatures_c"])

    def good(self):
        return self.first is None and self.time <= TIME_S and self.charge <= CHARGE and self.kelvin <= KELVIN


def capacities(model):
    return {name: next(iter(model["model"][name]["chemistry"].values()))["capacity_c"] / 3600
            for name in ("starter", "house")}


def compare(program, file, changes, turn=None):
    """The difference, and seconds that this side took."""
    model = told(program, file, changes)
    summary, events = program_says(program, file, changes)
    numbers = capacities(model)
    cut(model, summary)
    if turn:
        turn(model)
    began = time.perf_counter()
    try:
        found = result(Run(model).run())
    except (Chatter, ValueError) as fault:
        found = result_of_fault(fault)
    return Difference(numbers, summary, events, found), time.perf_counter() - began


def cut(model, summary):
    """Where the program ends a run early, since inputs leave what it describes, so does this one."""
    if summary["ended_early"]:
        drive, end = model["drive"], summary["summary"]["span_s"]
        drive["pieces"] = [p | {"end_s": min(p["end_s"], end)} for p in drive["pieces"] if p["start_s"] < end]


def result_of_fault(fault):
    return {"events": [(0, "chatter", str(fault), "")], "starter_soc": 9.0, "house_soc": 9.0, "ledger": {},
            "temperatures_c": {"unit case": 0.0}}


def shipped(program, weeks):
    """Name, file, changes of every scenario with the full model that lasts up to a day, or longer."""
    catalogue = tomllib.loads((SCENARIOS / "faults.toml").read_text())
    cases = [(p.stem, p, []) for p in sorted([*SCENARIOS.glob("*.toml"), *(SCENARIOS / "patterns").glob("*.toml")])
             if p.stem not in ("faults",)]
    for row in catalogue["fault"]:
        cases.append((f"fault {row['row']}: {row['name']}"[:60], SCENARIOS / catalogue["base"],
                      catalogue.get("set", []) + row.get("set", [])))
    cases += [(name, SCENARIOS / catalogue["base"], changes) for name, changes in PARTS]
    for name, file, changes in cases:
        pieces = told(program, file, changes)["drive"]["pieces"]
        if (pieces[-1]["end_s"] > DAY_S) == weeks:
            yield name, file, changes


def show(name, difference, seconds, good):
    print(f"{'ok  ' if good else 'FAIL'} {name:60} {difference.count:5} events, times {difference.time:.0e} s, "
          f"charge {difference.charge:.0e}, {difference.kelvin:.0e} K  ({seconds:.1f} s)", flush=True)


def bite(program, only):
    """Every change of one number must be noticed, and without it the same scenario agrees."""
    base = SCENARIOS / "reference-van-full.toml"
    unseen = tried = 0
    whole = {}
    for name, changes, path, factor in BITES:
        if only not in name:
            continue
        key = tuple(changes)
        if key not in whole:
            whole[key] = compare(program, base, changes)[0]
        difference, _ = compare(program, base, changes, lambda told: turned(told, path, factor))
        good = whole[key].good() and not difference.good()
        tried, unseen = tried + 1, unseen + (not good)
        print(f"{'ok  ' if good else 'FAIL'} {name:40} {path} times {factor}: "
              f"{'sequence' if difference.first else f'{difference.time:.0e} s'}, {difference.charge:.0e}, {difference.kelvin:.0e} K"
              + ("" if whole[key].good() else f"  without it: {whole[key].first}"), flush=True)
    print(f"scipy, full model, bites: {tried - unseen} of {tried} noticed")
    return 1 if unseen else 0


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program")
    parser.add_argument("--bite", action="store_true")
    parser.add_argument("--weeks", action="store_true")
    parser.add_argument("--only", default="")
    parser.add_argument("--wild", nargs=2, type=int, default=(0, 50), metavar=("FIRST", "COUNT"))
    parser.add_argument("--keep", help="folder for the random vehicles")
    given = parser.parse_args()
    passed, failed, events = 0, 0, 0
    worst = [0.0, 0.0, 0.0]
    if given.bite:
        return bite(given.program, given.only)
    with tempfile.TemporaryDirectory() as scratch:
        folder = pathlib.Path(given.keep or scratch)
        cases = [*shipped(given.program, given.weeks)]
        if not given.weeks:
            cases += [(f"random vehicle {n}", wild.write(given.program, folder, n), [])
                      for n in range(given.wild[0], sum(given.wild))]
        for name, file, changes in cases:
            if given.only not in name:
                continue
            try:
                difference, seconds = compare(given.program, file, changes)
            except Stuck as fault:
                print(f"FAIL {name:60} {fault}", flush=True)
                failed += 1
                continue
            good = difference.good()
            show(name, difference, seconds, good)
            passed, failed, events = passed + good, failed + (not good), events + difference.count
            if good:
                worst = [max(a, b) for a, b in zip(worst, (difference.time, difference.charge, difference.kelvin))]
            elif difference.first:
                print("     " + difference.first)
            else:
                print(f"     {difference.when}; {difference.line}; {difference.part}")
    print(f"worst of those that agree: {worst[0]:.1e} s, {worst[1]:.1e} of capacity, {worst[2]:.1e} K")
    print(f"scipy, full model: {passed} passed, {failed} failed, {events} events")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
