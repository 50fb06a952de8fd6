"""Plain vehicle-charging model. `python3 plain_model.py SCENARIO [--set key.path=value ...] [--json]`"""
import argparse
import json
import sys

from flow import CHARGE, ENERGY, STATES
from logic import LogicError
from network import NetworkError
from scenario import ScenarioError, load
from simulate import METHODS, Simulation


def ledgers(sim):
    """Charge lines in Ah and energy lines in J, both by name."""
    at = len(STATES)
    charge = {n: float(v) / 3600 for n, v in zip(CHARGE, sim.state[at:at + len(CHARGE)])}
    at += len(CHARGE)
    energy = {n: float(v) for n, v in zip(ENERGY, sim.state[at:])}
    return charge, energy


def residual(terms, scale=0.0):
    """Sum of signed terms, and the same relative to the largest of them (or to `scale`, if that is more)."""
    total = sum(terms)
    largest = max(scale, *(abs(x) for x in terms))
    return {"absolute": total, "relative": total / largest if largest else 0.0}


def charge_closure(sim, q):
    closed = {
        "starter_bus": residual([q["alternator"], -q["vehicle_load"], -q["starter_charged"],
                                 q["starter_discharged"], -q["input"]]),
        "house_bus": residual([q["output"], q["solar"], -q["house_load"], -q["house_charged"],
                               q["house_discharged"]])}
    for name, battery, index in (("starter", sim.starter, 0), ("house", sim.house, 3)):
        stored_ah = (float(sim.state[index]) - battery.given.start) * battery.capacity_as / 3600
        closed[f"{name}_battery"] = residual(
            [q[f"{name}_charged"], -q[f"{name}_discharged"], -stored_ah, -q[f"{name}_lost"],
             -q[f"{name}_refused"]])
    return closed


def energy_closure(sim, e):
    parts = lambda b: [-e[f"{b}_{k}"] for k in ("stored", "on_branches", "efficiency_loss", "resistance_loss",
                                                "refused")]
    closed = {
        "starter_bus": residual([e["alternator"], -e["vehicle_load"], -e["starter_terminals"], -e["input_cable_loss"],
                                 -e["unit_input"], -e["standby"]]),
        "unit": residual([e["unit_input"], -e["unit_loss"], -e["unit_output"]]),
        "house_bus": residual([e["unit_output"], e["solar"], -e["output_cable_loss"], -e["house_load"],
                               -e["house_terminals"]]),
        "whole": residual([e["alternator"], e["solar"], -e["vehicle_load"], -e["house_load"], -e["input_cable_loss"],
                           -e["unit_loss"], -e["standby"], -e["output_cable_loss"], *parts("starter"),
                           *parts("house")])}
    for name, battery, at in (("starter", sim.starter, 0), ("house", sim.house, 3)):
        soc, v1, v2 = (float(x) for x in sim.state[at:at + 3])
        closed[f"{name}_battery"] = residual([e[f"{name}_terminals"], *parts(name)])
        # The integrated lines against the stores themselves: the antiderivative of E, and C v^2 / 2.
        closed[f"{name}_store"] = residual([e[f"{name}_stored"],
                                            battery.stored_j(battery.given.start) - battery.stored_j(soc)])
        closed[f"{name}_branches"] = residual([e[f"{name}_on_branches"], -battery.branches_j(v1, v2)],
                                             abs(e[f"{name}_terminals"]))
    return closed


def extreme(found, unit):
    return None if found.value is None else {unit: float(found.value), "t_s": float(found.t)}


def report(sim):
    charge, energy = ledgers(sim)
    return {
        "end_s": sim.end_s,
        "events": [{"t_s": t, "what": what} for t, what in sim.logic.events],
        "starter_soc": float(sim.state[0]), "house_soc": float(sim.state[3]),
        "unit_on_at_end": sim.logic.on,
        "charge_ah": charge, "energy_j": energy,
        "charge_closure_ah": charge_closure(sim, charge), "energy_closure_j": energy_closure(sim, energy),
        "largest_input_current": extreme(sim.input_peak, "a"),
        "smallest_margin": extreme(sim.margin, "v"),
        "smallest_margin_engine_running": extreme(sim.driving_margin, "v"),
        "segments": sim.segments, "steps": sim.steps}


def show(result):
    for event in result["events"]:
        print(f"{event['t_s']:16.6f} s  {event['what']}")
    print(f"starter SOC {result['starter_soc']:.9f}   house SOC {result['house_soc']:.9f}")
    for name, ah in result["charge_ah"].items():
        print(f"{name:>20} {ah:14.8f} Ah")
    for key in ("largest_input_current", "smallest_margin", "smallest_margin_engine_running"):
        print(key, result[key])
    for key in ("charge_closure_ah", "energy_closure_j"):
        worst = max(result[key], key=lambda name: abs(result[key][name]["relative"]))
        print(f"{key}: worst is {worst}, relative {result[key][worst]['relative']:.1e}")


def main():
    parser = argparse.ArgumentParser(description="Independent SciPy program of the plain vehicle-charging model.")
    parser.add_argument("scenario")
    parser.add_argument("--set", action="append", default=[], metavar="KEY.PATH=VALUE", dest="settings")
    parser.add_argument("--rtol", type=float, default=1e-10)
    parser.add_argument("--method", choices=sorted(METHODS), default="DOP853")
    parser.add_argument("--max-step-s", type=float, default=60.0)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    try:
        scenario = load(given.scenario, given.settings)
    except ScenarioError as fault:
        print(fault, file=sys.stderr)
        return 2
    try:
        result = report(Simulation(scenario, given.rtol, given.method, given.max_step_s).run())
    except (LogicError, NetworkError) as fault:
        print(fault, file=sys.stderr)
        return 3
    if given.json:
        json.dump(result, sys.stdout, indent=1)
        print()
    else:
        show(result)
    return 0


if __name__ == "__main__":
    sys.exit(main())
