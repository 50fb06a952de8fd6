"""Checks this program against closed forms and against a brute-force network. `python3 selfcheck.py`, exit 1 on a miss.

Textbook circuit results, derived by hand: a constant-power load behind a resistance, an RC step, and constant
current then constant voltage into a linear battery. The digits are those formulas worked out separately.
"""
import math
import random
import sys

import numpy as np
from scipy.optimize import brentq

from battery import Battery
from logic import Demand
from network import Network
from scenario import Table, convert
from simulate import Simulation

misses = 0


def check(what, got, wanted, tolerance):
    global misses
    good = abs(got - wanted) <= tolerance
    misses += not good
    print(f"{'ok  ' if good else 'MISS'} {what}: {got:.9g}, wanted {wanted:.9g} within {tolerance:.1g}")


def tree(house, unit, stages, drive):
    """An invented vehicle whose starter side is stiff, so that only the house side shapes the answer."""
    run = {"length_m": 0, "area_mm2": 16, "conductor": "class-5", "joints_mohm": 0}
    return {
        "alternator": {"set_point_v": 14.2, "droop_mohm": 0.001, "asymptote_a": 1e5, "cut_in_rpm": 1000,
                       "rise_rpm": 1500, "pulley_ratio": 2.6},
        "vehicle": {"running_load_a": 0, "parked_load_a": 0, "crank_a": 0, "crank_s": 0},
        "starter_battery": {"chemistry": "linear", "capacity_ah": 80, "start_pct": 50, "empty_v": 12, "full_v": 12,
                            "r0_mohm": 5, "r1_mohm": 0, "tau1_s": 60, "r2_mohm": 0, "tau2_s": 1200,
                            "charge_efficiency_pct": 100},
        "house_battery": {"chemistry": "linear", "r1_mohm": 0, "tau1_s": 30, "r2_mohm": 0, "tau2_s": 1200,
                          "charge_efficiency_pct": 100, **house},
        "input_cable": run, "output_cable": run,
        "converter": {"input_limit_a": 1e4, "fixed_loss_w": 0, "proportional_loss_pct": 0, "square_loss_per_w": 0,
                      "ramp_s": 0, "standby_ma": 0, **unit},
        "start_stop": {"turn_on_v": 13, "turn_on_delay_s": 0, "turn_off_v": 12.5, "turn_off_delay_s": 0},
        "stages": {"tail_hold_s": 0, "absorption_cap_min": 6000, "float_v": 13, "recharge_v": 5,
                   "recharge_hold_s": 60, **stages},
        "house": {"load_w": 0},
        "drive": {"piece": [{"duration_s": s, "engine_rpm": 2000 if on else 0} for s, on in drive]},
    }


def constant_power():
    """V = (E + sqrt(E^2 - 4 P R)) / 2; the last row is the fold, where the root is a double one."""
    for e, r, p, volts, amps in [(13.5, .030, 600, 12.0, 50.0), (14.0, .020, 500, 13.244998, 37.75010),
                                 (13.8, .012, 480, 13.369158, 35.90353), (12.8, .040, 400, 11.395998, 35.10004),
                                 (14.4, .050, 720, 11.179950, 64.40101), (14.0, .098, 500, 7.0, 71.42857)]:
        scenario = convert(Table(tree({"capacity_ah": 1, "start_pct": 50, "empty_v": 12, "full_v": 13, "r0_mohm": 1},
                                      {"output_limit_a": 1}, {"absorption_v": 14, "tail_a": 1}, [(1, True)]), ""))
        scenario.input_cable_ohm = r - scenario.starter.r0_ohm
        network = Network(scenario, Battery(scenario.starter), Battery(scenario.house))
        demand = Demand(False, 0, 0, 0, True, 14, 0, 0)
        regime, feed = network.draw(demand, e, p * (1 - 1e-12))
        i = network.feed_current(regime, feed, demand, e, p)
        check(f"constant power, E {e} V, R {r} ohm, {p} W, I", i, amps, 6e-6)
        check("    V", e - r * i, volts, 6e-7)


def branch_step():
    """v = OCV + I R0 + I R1 (1 - exp(-t/tau)), then the branch alone after the step has ended."""
    house = {"capacity_ah": 100, "start_pct": 20, "empty_v": 13.2, "full_v": 13.2, "r0_mohm": 4, "r1_mohm": 3}
    unit, stages = {"output_limit_a": 50}, {"absorption_v": 20, "tail_a": 1}
    for t, wanted in [(30, 13.494818), (60, 13.529700), (150, 13.548989), (300, 13.549993)]:
        sim = Simulation(convert(Table(tree(house, unit, stages, [(t, True)]), ""))).run()
        check(f"step of 50 A, V at {t} s", 13.2 + 50 * 0.004 + sim.state[4], wanted, 6e-7)
    for t, wanted in [(150, 13.254171), (180, 13.219928), (240, 13.202697)]:
        sim = Simulation(convert(Table(tree(house, unit, stages, [(120, True), (t - 120, False)]), ""))).run()
        check(f"step ended at 120 s, V at {t} s", 13.2 + sim.state[4], wanted, 6e-7)


def current_then_voltage():
    """t_cc = (s1 - s0) Q / I, then an exponential tail with tau = Q R / (dE/ds)."""
    house = {"capacity_ah": 100, "start_pct": 20, "empty_v": 12.8, "full_v": 14.0, "r0_mohm": 20}
    sim = Simulation(convert(Table(tree(house, {"output_limit_a": 30}, {"absorption_v": 14, "tail_a": 3},
                                        [(20000, True)]), ""))).run()
    at = {what: t for t, what in sim.logic.events}
    check("constant current ends", at["absorption"], 3600, 1e-6)
    check("tail current reached", at["float"], 3600 + 6000 * math.log(10), 1e-4)
    check("SOC after it", sim.state[3], 0.95, 1e-9)


def brute_force(cases=150):
    """Random instants: the balances must hold, and no larger output current may be allowed than the one found."""
    rng, worst_balance, worst_output, seen = random.Random(1), 0.0, 0.0, set()
    for _ in range(cases):
        scenario = convert(Table(tree({"capacity_ah": 1, "start_pct": 50, "empty_v": rng.uniform(12, 14),
                                       "full_v": 14.1, "r0_mohm": rng.uniform(2, 20)},
                                      {"output_limit_a": 40, "input_limit_a": rng.uniform(15, 80), "fixed_loss_w": 4,
                                       "proportional_loss_pct": 4, "square_loss_per_w": 2e-5},
                                      {"absorption_v": 14, "tail_a": 1}, [(1, True)]), ""))
        scenario.input_cable_ohm = 10 ** rng.uniform(-3, -0.7)
        scenario.output_cable_ohm = rng.choice([0.0, rng.uniform(1e-3, 2e-2)])
        scenario.alternator.droop_ohm = rng.uniform(1e-3, 8e-3)
        scenario.solar_set_point_v, scenario.solar_ohm = rng.uniform(12.5, 14.6), rng.uniform(5e-3, 5e-2)
        demand = Demand(rng.random() < 0.8, 14.2, rng.uniform(20, 130), rng.uniform(0, 40), True,
                        rng.uniform(13, 14.6), rng.uniform(0, 300), rng.choice([0.0, rng.uniform(0, 300)]))
        starter, house = Battery(scenario.starter), Battery(scenario.house)
        starter.pieces = [(0.0, rng.uniform(11.5, 14.6), 0.0, 0.0, 0.0)]
        allowed_a = rng.uniform(0, 40)
        regime, p = Network(scenario, starter, house).find(demand, [0.5, 0, 0, 0.5, 0, 0], allowed_a)
        seen.add((regime.alternator, regime.output, regime.feed, regime.solar))

        def alternator_a(v):
            most = demand.alternator_limit_a if demand.alternator_on else 0.0
            return min(max((demand.set_point_v - v) / scenario.alternator.droop_ohm, 0.0), most)

        def house_v(i):
            def surplus(v):
                solar = max(0.0, min(demand.solar_w / v, (scenario.solar_set_point_v - v) / scenario.solar_ohm))
                return v - p.house_e_v - house.r0_ohm * (i + solar - demand.house_load_w / v)
            return brentq(surplus, 9, 20, xtol=1e-14)

        sb_v = p.starter_e_v + starter.r0_ohm * p.starter_a
        worst_balance = max(
            worst_balance, abs(sb_v - p.sb_v), abs(sb_v - scenario.input_cable_ohm * p.input_a - p.in_v),
            scenario.alternator.droop_ohm * abs(alternator_a(sb_v) - p.alternator_a),
            abs(p.alternator_a - demand.vehicle_a - p.input_a - p.starter_a),
            abs(house_v(p.output_a) - p.hb_v))
        grid = np.linspace(0, scenario.input_limit_a, 4001)
        low, high = np.full_like(grid, -60.0), np.full_like(grid, 40.0)
        most = demand.alternator_limit_a if demand.alternator_on else 0.0
        for _ in range(60):
            v = (low + high) / 2
            over = v - p.starter_e_v - starter.r0_ohm * (
                np.clip((demand.set_point_v - v) / scenario.alternator.droop_ohm, 0, most) - demand.vehicle_a - grid) > 0
            low, high = np.where(over, low, v), np.where(over, v, high)
        most_w = float(np.max((low - scenario.input_cable_ohm * grid) * grid))

        def too_much(i):
            v = house_v(i) + scenario.output_cable_ohm * i
            w = v * i
            return v > demand.target_v or w + 4 + w * (0.04 + 2e-5 * w) > most_w

        low_a, high_a = 0.0, allowed_a
        if not too_much(high_a):
            low_a = high_a
        while high_a - low_a > 1e-10:
            mid = (low_a + high_a) / 2
            low_a, high_a = (low_a, mid) if too_much(mid) else (mid, high_a)
        worst_output = max(worst_output, abs(low_a - p.output_a))
    check(f"brute force, {cases} instants, {len(seen)} regimes, worst balance", worst_balance, 0, 1e-10)
    check("    worst output current", worst_output, 0, 1e-6)


if __name__ == "__main__":
    for part in (constant_power, branch_step, current_then_voltage, brute_force):
        part()
    sys.exit(1 if misses else 0)
