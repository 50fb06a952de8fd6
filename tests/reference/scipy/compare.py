#!/usr/bin/env python3
"""Compares the Rust program with the independent SciPy program, case by case.

    python3 compare.py path/to/tickover [--only WORD] [--bite]

Both read the same scenario files; nothing else is shared. Event sequences must be the same; times agree to
5 microseconds (events.csv prints whole ones), states of charge to 1e-10, ampere-hours to 1e-6.
`--bite` turns one value of the Rust side alone by 1 % and expects that the case then fails.
Exit 0 when every case is as expected, 1 when one is not, 2 when a program cannot be run.
"""

import csv
import json
import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
SCENARIOS = HERE.parents[2] / "scenarios"

# Tolerances are what was reached over all cases, rounded up.
TIME_S = 5e-6
SOC = 1e-10
AH = 1e-6

# Name, scenario, changes.
CASES = [
    ("reference van", "reference-van.toml", []),
    ("cable too thin", "thin-run.toml", []),
    ("7 m", "reference-van.toml", ["input_cable.length_m=7"]),
    ("8 m", "reference-van.toml", ["input_cable.length_m=8"]),
    ("9 m", "reference-van.toml", ["input_cable.length_m=9"]),
    ("absorption and float", "reference-van.toml",
     ["house_battery.start_pct=90", "drive.piece.2.duration_min=120"]),
    ("absorption ends on its cap", "reference-van.toml",
     ["house_battery.start_pct=90", "drive.piece.2.duration_min=120", "house.load_w=140",
      "stages.absorption_cap_min=20"]),
    ("input limit", "reference-van.toml", ["converter.input_limit_a=38"]),
    ("30 A out", "reference-van.toml", ["converter.output_limit_a=30", "input_cable.length_m=12"]),
    ("source gives no more", "reference-van.toml",
     ["input_cable.length_m=60", "start_stop.turn_off_v=7", "converter.input_limit_a=200"]),
    ("idle speed", "reference-van.toml", ["drive.piece.2.engine_rpm=620", "vehicle.running_load_a=45"]),
    ("sun on the house", "reference-van.toml",
     ["house_solar.power_w=250", "house_solar.set_point_v=14.4", "house_solar.resistance_mohm=20",
      "house_battery.start_pct=97"]),
    ("set-point below turn-on", "reference-van.toml", ["drive.piece.2.set_point_v=13.3"]),
    ("house runs empty", "reference-van.toml",
     ["house_battery.start_pct=3", "house_battery.capacity_ah=100", "drive.piece.3.duration_min=1200",
      "house.loads_return_v=12.4", "house.loads_hold_s=60"]),
    ("house runs empty, and its loads come back", "reference-van.toml",
     ["house_battery.start_pct=3", "house_battery.capacity_ah=100", "drive.piece.1.duration_s=18000",
      "house.loads_return_v=12.4", "house.loads_hold_s=60"]),
    ("low turn-off after key-off", "reference-van.toml",
     ["start_stop.turn_on_v=12.8", "start_stop.turn_off_v=12.2", "drive.piece.3.duration_min=240"]),
    ("no ramp", "reference-van.toml", ["converter.ramp_s=0", "input_cable.length_m=9"]),
    ("half the starter battery", "reference-van.toml",
     ["starter_battery.capacity_ah=40", "starter_battery.start_pct=60"]),
    ("thin run, 60 s before it tries again", "thin-run.toml", ["start_stop.turn_on_delay_s=60"]),
    ("thin run, no delay at turn-off", "thin-run.toml", ["start_stop.turn_off_delay_s=0"]),
    ("thin run of 25 mm2", "thin-run.toml", ["input_cable.area_mm2=25"]),
    ("a joint just over the edge", "reference-van.toml", ["input_cable.joints_mohm=16"]),
    ("6 mm2, class 2", "reference-van.toml", ["input_cable.area_mm2=6", "input_cable.conductor=class-2"]),
    ("turn-off too high", "reference-van.toml", ["start_stop.turn_off_v=13.45"]),
    ("turn-on never reached", "reference-van.toml", ["start_stop.turn_on_v=14.4"]),
    ("alternator too weak to start the unit", "reference-van.toml", ["alternator.asymptote_a=55"]),
    ("poor alternator cable", "reference-van.toml", ["alternator.droop_mohm=15"]),
    ("resistive output cable into absorption", "reference-van.toml",
     ["output_cable.joints_mohm=26", "house_battery.start_pct=80"]),
    ("aged house battery", "reference-van.toml",
     ["house_battery.r0_mohm=20", "house_battery.r1_mohm=15", "house_battery.r2_mohm=25"]),
    ("aged starter battery", "reference-van.toml",
     ["starter_battery.capacity_ah=25", "starter_battery.r0_mohm=25", "starter_battery.start_pct=30"]),
    ("a load that hides the tail", "reference-van.toml",
     ["house.load_w=100", "house_battery.start_pct=96", "stages.tail_a=4", "drive.piece.2.duration_min=180"]),
    ("sun holds the house bus", "reference-van.toml",
     ["house_solar.power_w=250", "house_solar.set_point_v=14.4", "house_solar.resistance_mohm=20",
      "house_battery.start_pct=80", "drive.piece.2.duration_min=120"]),
    ("float that ends on recharge", "reference-van.toml",
     ["house_battery.start_pct=97", "drive.piece.2.duration_min=180", "stages.recharge_v=13.45",
      "stages.recharge_hold_s=10", "house.load_w=300", "stages.float_v=13.46"]),
    ("house battery of lead, as the plain model has it", "reference-van.toml",
     ["house_battery.chemistry=linear", "house_battery.empty_v=11.9", "house_battery.full_v=12.8",
      "house_battery.charge_efficiency_pct=90", "house_battery.start_pct=70", "stages.float_v=13.3"]),
    ("a week parked", "reference-van.toml", ["drive.piece.3.duration_min=10080",
     "house.loads_return_v=12.4", "house.loads_hold_s=60"]),
]

# Case, and what the Rust side alone is told.
BITES = [
    ("reference van", "converter.proportional_loss_pct=4.04"),
    ("reference van", "starter_battery.r1_mohm=6.06"),
    ("reference van", "input_cable.joints_mohm=2.02"),
    ("reference van", "start_stop.turn_on_delay_s=30.3"),
    ("cable too thin", "alternator.droop_mohm=3.03"),
    ("absorption and float", "house_battery.r0_mohm=4.04"),
    ("absorption and float", "stages.tail_a=8.08"),
    ("sun holds the house bus", "house_solar.resistance_mohm=20.2"),
    ("aged starter battery", "vehicle.crank_a=181.8"),
    ("idle speed", "alternator.rise_rpm=1515"),
    ("house battery of lead, as the plain model has it", "house_battery.charge_efficiency_pct=90.9"),
    ("low turn-off after key-off", "starter_battery.tau2_s=1212"),
    ("resistive output cable into absorption", "output_cable.joints_mohm=26.26"),
]

NAMES = {
    ("key_on", ""): "key_on",
    ("engine_runs", ""): "crank_end",
    ("key_off", ""): "key_off",
    ("unit_on", ""): "unit_on",
    ("unit_off", ""): "unit_off",
    ("stage", "absorption"): "absorption",
    ("stage", "float"): "float",
    ("stage", "bulk"): "bulk",
    ("loads_shed", "shed"): "shed",
    ("loads_shed", "served"): "loads_back",
}


def ours(program, scenario, changes, folder, tolerance="1e-11"):
    command = [program, "run", str(scenario), "--tolerance", tolerance, "--out", str(folder)]
    for change in changes:
        command += ["--set", change]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode not in (0, 3):
        sys.exit(f"{' '.join(command)}\n{done.stderr}")
    summary = json.loads((folder / "summary.json").read_text())
    events = []
    with open(folder / "events.csv", newline="") as file:
        for row in csv.DictReader(file):
            what = NAMES.get((row["what"], row["to"] if row["what"] in ("stage", "loads_shed") else ""))
            if row["what"] == "bound":
                side, at = row["from"], row["to"]
                what = f"{side}_{at}" if at != "within" else f"{side}_end"
            if what:
                events.append((float(row["time_s"]), what))
    return summary, events


def theirs(scenario, changes):
    command = [sys.executable, str(HERE / "plain_model.py"), str(scenario), "--json", "--rtol", "1e-11"]
    for change in changes:
        command += ["--set", change]
    done = subprocess.run(command, capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)}\n{done.stdout}{done.stderr}")
    result = json.loads(done.stdout)
    keep = set(NAMES.values())
    events = []
    for event in result["events"]:
        what = event["what"]
        if what.endswith("_full_end"):
            what = what.split("_")[0] + "_end"
        if what in keep or what.endswith(("_full", "_end")) and what not in ("source_limit_end",):
            events.append((event["t_s"], what))
    return result, events


def order(events):
    """Events of one instant in a fixed order: the programs may name them in another."""
    return sorted(events, key=lambda e: (round(e[0], 4), e[1]))


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    program = sys.argv[1]
    only = sys.argv[sys.argv.index("--only") + 1] if "--only" in sys.argv else ""
    by_name = {name: (file, changes) for name, file, changes in CASES}
    if "--bite" in sys.argv:
        cases = [(name, *by_name[name], [word]) for name, word in BITES]
    else:
        cases = [(*case, []) for case in CASES]
    worst = {"s": 0.0, "soc": 0.0, "ah": 0.0}
    failed = passed = 0
    for name, file, changes, bite in cases:
        if only not in name:
            continue
        scenario = SCENARIOS / file
        with tempfile.TemporaryDirectory() as folder:
            summary, ours_events = ours(program, scenario, changes + bite, pathlib.Path(folder))
        result, their_events = theirs(scenario, changes)
        a, b = order(ours_events), order(their_events)
        same = [w for _, w in a] == [w for _, w in b]
        time = max((abs(x[0] - y[0]) for x, y in zip(a, b)), default=0.0) if same else float("nan")
        s = summary["summary"]
        soc = max(abs(s["house_end_soc"] - result["house_soc"]), abs(s["starter_end_soc"] - result["starter_soc"]))
        charge, ledger = result["charge_ah"], summary["ledger"]
        ah = max(
            abs(ledger["unit_output_ah"] - charge["output"]),
            abs(ledger["unit_input_ah"] - charge["input"]),
            abs(ledger["alternator_ah"] - charge["alternator"]),
            abs(ledger["vehicle_ah"] - charge["vehicle_load"]),
            abs(ledger["house_load_ah"] - charge["house_load"]),
            abs(ledger["starter_refused_ah"] - charge["starter_refused"]),
            abs(ledger["house_unserved_wh"] - result["energy_j"]["house_unserved"] / 3600) / 12,
        )
        agrees = same and time <= TIME_S and soc <= SOC and ah <= AH
        good = agrees != bool(bite)
        passed, failed = passed + good, failed + (not good)
        if same:
            worst = {"s": max(worst["s"], time), "soc": max(worst["soc"], soc), "ah": max(worst["ah"], ah)}
        told = f"{name}, {bite[0]}" if bite else name
        print(f"{'ok  ' if good else 'FAIL'} {told:50} {len(a):4} events, times {time:.1e} s, SOC {soc:.1e}, Ah {ah:.1e}")
        if not same and not bite:
            n = next((k for k, (x, y) in enumerate(zip(a, b)) if x[1] != y[1]), min(len(a), len(b)))
            print(f"     first difference at number {n}: {a[n:n + 3]} against {b[n:n + 3]}")
    print(f"worst over all: {worst['s']:.1e} s, {worst['soc']:.1e} SOC, {worst['ah']:.1e} Ah")
    print(f"scipy: {passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
