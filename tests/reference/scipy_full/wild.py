"""Random full vehicles as scenario files, drawn wide: every part that the keys offer, and drives that upset them.

What the program refuses as a scenario (thresholds that cannot be, volts that do not fit) is drawn again, and so is what switches without end.
"""
import pathlib
import random
import subprocess


class Draw:
    def __init__(self, name):
        self.r = random.Random(name)

    def f(self, low, high):
        return round(self.r.uniform(low, high), 3)

    def log(self, low, high):
        return float(f"{low * (high / low) ** self.r.random():.4g}")

    def one(self, *choices):
        return self.r.choice(choices)

    def chance(self, share):
        return self.r.random() < share


def fuse(d, prefix, rating):
    keys = {prefix + "_a": rating}
    if d.chance(0.7):
        keys[prefix + "_kind"] = d.one("iso-8820-3-c", "iso-8820-3-f", "iso-8820-3-e", "iso-8820-5-sf30", "iso-8820-5-sf51")
    else:
        keys |= {prefix + "_times_rating": [1.1, 1.5, 3.0], prefix + "_opens_s": [d.log(1000, 100000), d.log(50, 500), d.log(0.5, 5)]}
    return keys


def cable(d, length, joints):
    keys = {"length_m": length, "joints_mohm": joints, "area_mm2": d.one(6, 10, 16, 25, 35),
            "laying": d.one("free-air", "clipped", "sleeved", "bundled", "constant"), "joints_w_per_k": d.log(0.1, 2)}
    return keys


def battery(d, chemistry, ah, start):
    keys = {"chemistry": chemistry, "capacity_ah": ah, "start_pct": start, "temperature": d.one("follows", "follows", "stays")}
    if chemistry == "linear":
        keys |= {"charge_efficiency_pct": d.f(80, 100), "tau1_s": d.log(5, 100), "r0_mohm": d.log(2, 15)}
    if chemistry == "table":
        keys |= {"table_pct": [0, 20, 50, 80, 100], "table_v": [11.5, 12.1, 12.4, 12.65, 12.85],
                 "charge_efficiency_pct": d.f(80, 100)}
    if chemistry == "lfp":
        keys |= {"hysteresis_mv": d.one(0, 5, 12), "cold_ratio": d.one(1, 2.5, 4), "top": d.one("relaxes", "stays"),
                 "self_discharge_pct_per_month": d.f(0, 10), "charge_efficiency_pct": d.one(100, 99, 95),
                 "r0_mohm": d.log(2, 15)}
    if d.chance(0.4):
        keys["start_c"] = d.f(-12, 35)
    return keys


def piece(d, runs, variable):
    keys = {"duration_s": d.log(20, 5000), "engine_rpm": d.one(700, 800, 1200, 2000, 2600) if runs else 0}
    if d.chance(0.4):
        keys["vehicle_load_a"] = d.f(10, 90) if runs else d.one(0.05, 0.5, 8)
    if d.chance(0.5):
        keys["house_load_w"] = d.one(0, 40, 150, 400, 900)
    if d.chance(0.3):
        keys["house_solar_w"] = d.f(0, 400)
    if d.chance(0.15):
        keys["house_mains_a"] = d.f(0, 40)
    if d.chance(0.2):
        keys["starter_solar_w"] = d.f(0, 60)
    if d.chance(0.3):
        keys["air_c"] = d.f(-20, 45)
    if d.chance(0.1):
        keys["input_joint_extra_mohm"] = d.f(1, 40)
    if d.chance(0.05):
        keys["input_cable"] = "open"
    if variable and runs:
        keys["phase"] = d.one("idle", "cruise", "accelerating", "overrun")
    elif runs and d.chance(0.2):
        keys["set_point_v"] = d.f(12.6, 14.8)
    return keys


def vehicle(d):
    """Sections and keys of one vehicle, and its drive."""
    variable = d.chance(0.25)
    unit_a = d.one(15, 25, 40, 60, 80)
    signal = d.one("none", "none", "required", "either", "second-pair")
    file = {
        "alternator": {"set_point_v": d.f(13.6, 14.8), "droop_mohm": d.log(1.5, 15), "asymptote_a": d.f(60, 220),
                       "rise_rpm": d.f(1000, 2500), "compensation_mv_per_k": d.one(0, -10, -20),
                       "derate_pct_per_k": d.one(0, 0.25, 0.6), "winding_rise_k": d.f(30, 150),
                       "winding_min": d.log(2, 15), "pick_up_a_per_s": d.one(0, 30, 100, 400),
                       "pick_up_lag_s": d.log(0.1, 0.6), "regulation": d.one("variable-deep", "variable-shallow") if variable else "fixed",
                       "compensated_by": d.one("regulator", "regulator", "air"), "regulator_rise_k": d.f(0, 60),
                       "regulator_warms_min": d.log(1, 20), "regulator_cools_min": d.log(10, 120),
                       "build_up_s": d.one(0, 0.5, 4, 12)},
        "vehicle": {"running_load_a": d.f(10, 60), "parked_load_a": d.log(0.02, 1), "crank_a": d.f(80, 400),
                    "crank_s": d.one(0, 0.5, 0.8, 2.5), "awake_load_a": d.one(0, 0, 3, 12),
                    "sleep_after_min": d.log(0.5, 20)},
        "starter_battery": battery(d, d.one("flooded", "flooded", "agm", "linear", "table"), d.f(20, 110),
                                   d.one(d.f(0, 10), d.f(30, 100), d.f(80, 100))),
        "input_cable": cable(d, d.f(1, 12), d.f(0.5, 20)),
        "converter": {"output_limit_a": unit_a, "input_limit_a": unit_a * d.f(0.8, 2), "ramp_s": d.one(0, 2, 10, 60),
                      "input_floor_v": d.one(0, 0, 11.5, 12.5), "sense": d.one("terminals", "house-posts"),
                      "fixed_loss_w": d.f(1, 12), "proportional_loss_pct": d.f(1, 8), "standby_ma": d.one(0, 5, 300),
                      "case_heat_j_per_k": d.log(150, 2000), "case_release_w_per_k": d.log(0.4, 3),
                      "locker_w_per_k": d.one(0, 0, d.f(0.3, 3)), "locker_heat_j_per_k": d.log(100, 2000)},
        "start_stop": {"turn_on_v": d.f(12.8, 13.8), "turn_on_delay_s": d.one(0, 5, 30, 60), "turn_off_v": d.f(11.8, 13.2),
                       "turn_off_delay_s": d.one(0, 2, 10), "least_off_s": d.one(0, 0, 45),
                       "filter_s": d.one(0, 0, 0.3, 3), "compensation_mohm": d.one(0, 0, 5, 12), "signal": signal,
                       "signal_turn_on_v": d.f(12.0, 12.6), "signal_turn_off_v": d.f(11.0, 11.9)},
        "stages": {"absorption_v": d.f(13.8, 14.6), "tail_a": d.one(2, 8, 15), "tail_hold_s": d.one(0, 10, 60),
                   "absorption_cap_min": d.one(2, 10, 60), "float_v": d.f(13.2, 13.7), "recharge_v": d.f(12.6, 13.2),
                   "recharge_hold_s": d.one(0, 10, 60), "mode": d.one("stages", "stages", "stages", "fixed-supply"),
                   "turn_on_begins": d.one("bulk", "where-it-left"), "cap_counts": d.one("each", "all"),
                   "compensation_mv_per_k": d.one(0, 0, -20)},
        "output_cable": cable(d, d.f(0.3, 5), d.f(0.3, 25)),
        "house_battery": battery(d, d.one("lfp", "lfp", "lfp", "agm", "gel", "flooded", "linear"), d.f(30, 300),
                                 d.one(d.f(0, 8), d.f(20, 80), d.f(92, 100))),
        "house": {"load_w": d.one(0, 30, 120, 350), "loads_stop_v": d.one(0, 10, 11.5), "loads_return_v": d.f(12.2, 13),
                  "loads_hold_s": d.log(5, 300)},
        "house_solar": {"set_point_v": d.f(13.8, 14.6), "resistance_mohm": d.log(5, 60)},
        "house_mains": {"set_point_v": d.f(13.8, 14.6), "resistance_mohm": d.log(3, 40)},
        "starter_solar": {"set_point_v": d.f(13.4, 14.4), "resistance_mohm": d.log(10, 100)},
        "drive": {"air_c": d.one(20, d.f(-15, 40)), "bay_c": d.f(35, 95)},
    }
    if d.chance(0.3):
        file["alternator"]["regulator_start_c"] = d.f(-10, 100)
    if variable and d.chance(0.5):
        file["alternator"] |= {"start_up_v": d.f(13.6, 14.6), "start_up_s": d.one(0, 30, 200),
                               "slew_up_v_per_s": d.log(0.02, 0.5), "slew_down_v_per_s": d.log(0.01, 0.3)}
    if d.chance(0.4):
        file["starter_battery"]["place"] = "bay"
    if file["house_battery"]["chemistry"] == "lfp":
        file["protection"] = {"heater_w": d.one(0, 0, 60, 150), "over_a": d.f(30, 200), "over_release_s": d.log(5, 200),
                              "cold_c": d.one(0, 2, -5), "cold_release_c": d.one(3, 5)}
        if d.chance(0.3):
            high = d.f(13.7, 14.3)
            file["protection"] |= {"high_v": high, "high_release_v": round(high - d.f(0.2, 0.6), 3)}
    if d.chance(0.15):
        file["input_cable"] |= fuse(d, "fuse", round(unit_a * d.f(0.5, 1.1), 1))
    if d.chance(0.15):
        file["input_cable"] |= fuse(d, "unit_end_fuse", round(unit_a * d.f(0.5, 1.1), 1))
    if d.chance(0.1):
        file["output_cable"] |= fuse(d, "fuse", round(unit_a * d.f(0.5, 1.0), 1))
    pieces, runs = [], d.chance(0.3)
    for _ in range(d.r.randint(3, 10)):
        pieces.append(piece(d, runs, variable))
        runs = d.chance(0.6)
    return file, pieces


def value(v):
    return f'"{v}"' if isinstance(v, str) else str(v)


def text(name):
    file, pieces = vehicle(Draw(name))
    lines = ["format = 2", f'name = "Random vehicle {name}"', ""]
    for section, keys in file.items():
        lines += [f"[{section}]", *(f"{k} = {value(v)}" for k, v in keys.items()), ""]
    for keys in pieces:
        lines += ["[[drive.piece]]", *(f"{k} = {value(v)}" for k, v in keys.items()), ""]
    return "\n".join(lines)


def write(program, folder, seed):
    """The file of this seed: of its draws the first that the program takes and can run to an end."""
    for attempt in range(100):
        path = pathlib.Path(folder) / f"random-{seed}.toml"
        path.write_text(text(f"{seed}.{attempt}"))
        done = subprocess.run([program, "run", str(path), "--out", str(path.with_suffix("")), "--plot", "none", "--quiet"],
                              capture_output=True, text=True)
        if done.returncode == 0:
            return path
    raise SystemExit(f"no vehicle of seed {seed} is taken:\n{done.stderr}{done.stdout}")
