"""Runs a netlist through ngspice and compares it with the Rust program's own samples of the same stretch.

    python3 check.py NETLIST REFERENCE_CSV [--lead-acid] [--ngspice PROGRAM] [--timeout SECONDS]

The netlist says where its cut lies (`starts_at_s`, `ends_at_s`) and which columns it writes; the CSV has `time_s`,
counted from the start of the run, and the same columns (others are passed over). Exit 1: a difference is beyond its
tolerance, or a wanted time is missing; 2: the inputs or ngspice itself are at fault.
"""
import argparse
import bisect
import csv
import math
import re
import subprocess
import sys
import tempfile
from pathlib import Path

# What was reached over all cases in README.md, rounded up.
VOLTS, AMPERES, SOC = 2e-6, 1e-4, 5e-8
# The same over the stretches with a lead-acid battery, whose steps are shorter and where nothing switches.
LEAD_ACID = 2e-8, 1e-7, 5e-9


def tolerances(volts, amperes, soc):
    """The tolerance of each column."""
    kinds = {volts: "sb_v in_v out_v hb_v", amperes: "i_alt i_in i_out i_starter i_house", soc: "soc_starter soc_house"}
    return {name: tolerance for tolerance, names in kinds.items() for name in names.split()}


TOLERANCES = tolerances(VOLTS, AMPERES, SOC)
SAME_TIME_S = 1e-5  # ngspice takes two corners closer than this for one.


class Fault(Exception):
    """Inputs or ngspice are at fault."""


def read_netlist(path):
    """The cut's beginning and end, and the name of the file that the netlist writes."""
    text = path.read_text()

    def one(pattern, what):
        found = re.search(pattern, text, re.MULTILINE)
        if not found:
            raise Fault(f"{path}: no {what}")
        return found.group(1)

    span = [float(one(rf"^\* {key} = (\S+)$", key)) for key in ("starts_at_s", "ends_at_s")]
    return *span, one(r"^wrdata (\S+)", "wrdata line (the netlist must write to a file)")


# Ways to an operating point: Newton's iteration with gmin stepping behind it, gmin stepping at once, source stepping behind
# Newton's iteration. Which of them gets there hangs on the last digits of what is given; where they get to does not.
WAYS = ["", "noopiter", "gminsteps=0"]


def tried(program, netlist, data_name, way, timeout_s):
    """What ngspice wrote and said, by one way to the operating point; run in a folder of its own that goes away again."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder, netlist.name)
        copy.write_text(re.sub(r"^\.options .*", rf"\g<0> {way}", netlist.read_text(), count=1, flags=re.MULTILINE))
        try:
            done = subprocess.run([program, "-b", str(copy)], cwd=folder, capture_output=True,
                                  text=True, timeout=timeout_s, check=False)
        except FileNotFoundError as error:
            raise Fault(f"{program} is not installed") from error
        except subprocess.TimeoutExpired as error:
            raise Fault(f"{program} took longer than {timeout_s} s") from error
        said = done.stdout + done.stderr
        data = Path(folder, data_name)
        if not data.exists() or re.search(r"timestep too small|aborted|no such vector", said, re.IGNORECASE):
            return None, said
        return data.read_text().split("\n"), said


def run_ngspice(program, netlist, data_name, timeout_s):
    """Columns by name, as ngspice wrote them."""
    for way in WAYS:
        lines, said = tried(program, netlist, data_name, way, timeout_s)
        if lines:
            break
    else:
        raise Fault(f"{program} did not get through {netlist}:\n{said[-3000:]}")
    names = lines[0].split()
    rows = [[float(x) for x in line.split()] for line in lines[1:] if line.strip()]
    return {name: [row[n] for row in rows] for n, name in enumerate(names)}


def read_reference(path, start_s, end_s):
    """Rows within the cut, one per time: after a jump, but before one at the cut's end.

    The first instant is left out: states are given there, and what ngspice writes is the operating point from which it starts,
    which hangs on the last digits of what it is given by some 1e-8 V (3e-6 A over an alternator's 3 milliohms), whatever its
    tolerances.
    """
    rows = {}
    with path.open(newline="") as file:
        reader = csv.DictReader(line for line in file if not line.startswith("#"))
        missing = ({"time_s"} | set(TOLERANCES)) - set(reader.fieldnames or [])
        if missing:
            raise Fault(f"{path}: no column {', '.join(sorted(missing))}")
        for row in reader:
            t = float(row["time_s"])
            if start_s < t <= end_s and not (t == end_s and t in rows):
                rows[t] = row
    if not rows:
        raise Fault(f"{path}: no row between {start_s} s and {end_s} s")
    return rows


def nearest(times, t):
    """Index of the time nearest to t."""
    n = bisect.bisect_left(times, t)
    around = [k for k in (n - 1, n) if 0 <= k < len(times)]
    return min(around, key=lambda k: abs(times[k] - t))


def compare(spice, reference, start_s):
    """Worst difference and its time by column, and the times that ngspice did not step on."""
    worst = {name: (0.0, None) for name in TOLERANCES}
    missed = []
    for t, row in reference.items():
        n = nearest(spice["time"], t - start_s)
        if abs(spice["time"][n] - (t - start_s)) > SAME_TIME_S:
            missed.append(t)
            continue
        for name in TOLERANCES:
            difference = abs(spice[name][n] - float(row[name]))
            if not difference <= worst[name][0]:  # A NaN is worse than anything.
                worst[name] = (difference, t)
    return worst, missed


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("netlist", type=Path)
    parser.add_argument("reference", type=Path)
    parser.add_argument("--ngspice", default="ngspice", help="the program to run")
    parser.add_argument("--lead-acid", action="store_true", help="to the tolerances of its stretches")
    parser.add_argument("--timeout", type=float, default=300.0, help="seconds after which it is given up")
    arguments = parser.parse_args()
    try:
        start_s, end_s, data_name = read_netlist(arguments.netlist)
        reference = read_reference(arguments.reference, start_s, end_s)
        spice = run_ngspice(arguments.ngspice, arguments.netlist, data_name, arguments.timeout)
        absent = ({"time"} | set(TOLERANCES)) - set(spice)
        if absent:
            raise Fault(f"{arguments.netlist}: it does not write {', '.join(sorted(absent))}")
    except (Fault, OSError, ValueError) as fault:
        print(fault, file=sys.stderr)
        return 2
    worst, missed = compare(spice, reference, start_s)
    allowed = tolerances(*LEAD_ACID) if arguments.lead_acid else TOLERANCES
    print(f"{arguments.netlist.name}: {len(reference)} times from {start_s:g} s to {end_s:g} s,"
          f" {len(spice['time'])} ngspice steps")
    bad = bool(missed)
    for name, (difference, at) in worst.items():
        good = difference <= allowed[name] and not math.isnan(difference)
        bad = bad or not good
        where = "" if at is None else f" at {at:g} s"
        print(f"{'ok  ' if good else 'MISS'} {name:12} {difference:.2e}{where}, tolerance {allowed[name]:.0e}")
    if missed:
        print(f"MISS {len(missed)} times that ngspice did not step on, the first {missed[0]:g} s")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
