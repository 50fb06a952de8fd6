"""What `tickover model --json` says, as flat records of numbers; `null` becomes an infinity that never acts.

Records and arrays, because compiled functions read them; names are those of the JSON, shortened. The numbers of all
tables are turned into cubic pieces by SciPy's PCHIP.
"""
from math import inf

import numpy as np
from scipy.interpolate import PchipInterpolator

PLAIN, LEAD, LITHIUM = 0, 1, 2

# ---- the states of sections 2 and 7, and where each stands ----

S, V1, V2, TEMP, HYST, TOP = range(6)       # inside a battery's six
SB, HB = 0, 6
CASE, LOCKER = 12, 13
IN_WIRE, IN_JOINT, OUT_WIRE, OUT_JOINT = 14, 18, 19, 23
WINDING, ALT_A, SET_V, FILTER_V, WEAR, REGULATOR = 24, 25, 26, 27, 28, 32
STATES = 33

LEDGERS = (
    "alternator_c starter_source_c vehicle_c starter_battery_c house_battery_c starter_battery_out_c unit_input_c "
    "unit_output_c unit_input_parked_c unit_output_parked_c solar_c mains_c house_load_c starter_lost_c house_lost_c "
    "starter_refused_c house_refused_c starter_unserved_c house_unserved_j starter_gassed_c house_gassed_c "
    "starter_self_discharge_c house_self_discharge_c alternator_j starter_source_j vehicle_j starter_battery_j solar_j "
    "mains_j house_battery_j house_load_j unit_input_j unit_output_j unit_loss_j input_cable_j output_cable_j "
    "starter_heat_j house_heat_j starter_forgone_j house_forgone_j starter_stored_j house_stored_j").split()
SIZE = STATES + len(LEDGERS)


def record(names, **kinds):
    return np.dtype([(n, kinds.get(n, "f8")) for n in names.split()])


BATTERY = record(
    "kind capacity_c charge_efficiency r0_ohm branch_ohm1 branch_ohm2 branch_s1 branch_s2 j_per_k w_per_k full_soc "
    "empty_v full_v emf_v_per_k r0_empty_rise r0_per_k depletion_per_v depletion_soft_v scale_a slope_v onset_v carried_v gassing_per_k "
    "self_discharge_per_s "
    "f_discharge_ohm f_time_s f_charge_share f_acceptance f_charge_soft_v f_charge_power f_discharge_soft_v "
    "f_charge_per_k f_discharge_per_k f_half_soc "
    "s_discharge_ohm s_time_s s_charge_share s_acceptance s_charge_soft_v s_charge_power s_discharge_soft_v "
    "s_charge_per_k s_discharge_per_k s_half_soc "
    "activation_k hysteresis_v hysteresis_rate has_top relax_s follow_c", kind="i8", has_top="i8")

MODEL = record(
    "alt_droop_ohm asymptote_a cut_in_rpm rise_rpm pulley_ratio set_point_v_per_k heat_rise_k heat_time_s derate_per_k "
    "has_regulator regulator_rise_k regulator_warms_s regulator_cools_s "
    "has_pick_up rate_a_per_s lag_s has_rule up_v_per_s down_v_per_s "
    "crank_a awake_a drop_out_v return_v starter_in_bay "
    "ss_set_v ss_droop_ohm hs_set_v hs_droop_ohm hm_set_v hm_droop_ohm "
    "cold_c cold_release_c high_v high_release_v low_v low_release_v over_a heater_w stop_v loads_return_v "
    "output_limit_a input_limit_a floor_v posts_sensed fixed_w proportional square_per_w standby_a case_j_per_k "
    "case_w_per_k locker_j_per_k locker_w_per_k derate_from_c derate_to_c lock_c reclose_c "
    "filter_s compensation_ohm absorption_v float_v tail_a recharge_v v_per_k "
    "in_joints_ohm in_joints_j in_joints_w in_joints_in_bay out_joints_ohm out_joints_j out_joints_w "
    # constants
    "zero_c_k copper_per_k copper_reference_c set_point_reference_c winding_reference_c winding_least_share "
    "lead_acid_reference_c gassing_most_exponent lithium_reference_k stages_reference_c idle_band_v "
    "cranking_drop_out_share no_supply_v return_spare_a nearly_empty_soc rest_a near_most_share",
    has_pick_up="i8", has_rule="i8", has_regulator="i8", starter_in_bay="i8", posts_sensed="i8", in_joints_in_bay="i8")

# What holds during one stretch of the integration: the piece, the discrete side, what is watched.
GIVEN = record(
    "engine_rpm set_point_v as_read vehicle_load_a house_load_w house_solar_w air_c bay_c starter_solar_a mains_a "
    "extra_ohm input_open "
    "running charging cranking awake on floating ramping ramp_from_s ramp_s locked dead refused shed mat hold_over "
    "output_open idle full0 full1 turn_on_v turn_off_v set_target_v set_direction low_soc low_soc_matters "
    "over_cold over_high mask", **{n: "i8" for n in (
        "as_read input_open running charging cranking awake on floating ramping locked dead refused shed mat hold_over "
        "output_open idle full0 full1 set_direction low_soc_matters mask").split()})


def none(value, otherwise):
    return otherwise if value is None else value


class Model:
    """The records that the compiled functions take, and the JSON itself for the discrete side."""

    def __init__(self, told):
        self.told, model, constants = told, told["model"], told["constants"]
        self.link = model["links"][0]
        self.pieces = told["drive"]["pieces"]
        self.batteries = np.zeros(2, BATTERY)
        self.tables = np.zeros((2, 2, 5, 32))       # battery; EMF or excess; knots and four coefficients; intervals
        self.knots = np.zeros((2, 2), np.int64)
        for k, name in enumerate(("starter", "house")):
            self.battery(k, model[name], constants)
        self.wires = np.zeros((2, 4, 4))            # cable; conductor; ohm_20, j_per_k, w_per_k, in_bay
        for k, name in enumerate(("input_cable", "output_cable")):
            for n, wire in enumerate(self.link[name]["conductors"]):
                self.wires[k, n] = wire["ohm_20"], wire["j_per_k"], wire["w_per_k"], wire["in_bay"]
        self.fuse_list(model)
        self.numbers = np.zeros(1, MODEL)
        self.fill(self.numbers[0], model, constants)

    def fill(self, m, model, constants):
        alternator, vehicle, protection = model["alternator"], model["vehicle"], model["protection"]
        for name in MODEL.names:
            if name in constants:
                m[name] = constants[name]
        for name in ("asymptote_a", "cut_in_rpm", "rise_rpm", "pulley_ratio", "set_point_v_per_k"):
            m[name] = alternator[name]
        m["alt_droop_ohm"] = alternator["droop_ohm"]
        heat = alternator["heat"]
        m["heat_rise_k"], m["heat_time_s"], m["derate_per_k"] = (
            (heat["full_rise_k"], heat["time_s"], heat["derate_per_k"]) if heat else (0.0, inf, 0.0))
        pick_up = alternator["pick_up"]
        m["has_pick_up"] = pick_up is not None
        m["rate_a_per_s"], m["lag_s"] = (none(pick_up["rate_a_per_s"], inf), pick_up["lag_s"]) if pick_up else (inf, 1.0)
        rule = alternator["rule"]
        m["has_rule"] = rule is not None
        m["up_v_per_s"], m["down_v_per_s"] = (rule["up_v_per_s"], rule["down_v_per_s"]) if rule else (0.0, 0.0)
        regulator = alternator["regulator"]
        m["has_regulator"] = regulator is not None
        m["regulator_rise_k"], m["regulator_warms_s"], m["regulator_cools_s"] = (
            (regulator["rise_k"], regulator["warms_s"], regulator["cools_s"]) if regulator else (0.0, inf, inf))
        for name in ("crank_a", "awake_a", "drop_out_v", "return_v", "starter_in_bay"):
            m[name] = vehicle[name]
        for short, name in (("ss", "starter_solar"), ("hs", "house_solar"), ("hm", "house_mains")):
            m[short + "_set_v"], m[short + "_droop_ohm"] = model[name]["set_v"], model[name]["droop_ohm"]
        for name, never in (("cold_c", -inf), ("cold_release_c", -inf), ("high_v", inf), ("high_release_v", inf),
                            ("low_v", -inf), ("low_release_v", -inf), ("over_a", inf), ("heater_w", 0.0)):
            m[name] = none(protection[name], never)
        m["stop_v"], m["loads_return_v"] = model["house_loads"]["stop_v"], model["house_loads"]["return_v"]
        unit = self.link["converter"]
        for name in ("output_limit_a", "input_limit_a", "floor_v", "standby_a", "case_j_per_k", "case_w_per_k"):
            m[name] = unit[name]
        for name in ("derate_from_c", "derate_to_c", "lock_c", "reclose_c"):
            m[name] = none(unit[name], inf)
        m["posts_sensed"] = unit["sense"] == "house_posts"
        for name, value in unit["loss"].items():
            m[name] = value
        m["locker_j_per_k"], m["locker_w_per_k"] = none(unit["locker"]["j_per_k"], inf), unit["locker"]["w_per_k"]
        m["filter_s"], m["compensation_ohm"] = (self.link["start_stop"][n] for n in ("filter_s", "compensation_ohm"))
        for name in ("absorption_v", "float_v", "tail_a", "recharge_v", "v_per_k"):
            m[name] = self.link["stages"][name]
        for short, name in (("in", "input_cable"), ("out", "output_cable")):
            cable = self.link[name]
            m[short + "_joints_ohm"] = cable["joints_ohm"]
            m[short + "_joints_j"], m[short + "_joints_w"] = cable["joints_j_per_k"], cable["joints_w_per_k"]
        m["in_joints_in_bay"] = self.link["input_cable"]["joints_in_bay"]
        if self.link["output_cable"]["joints_in_bay"]:
            raise ValueError("the output cable's joints lie in the cabin")

    def battery(self, k, told, constants):
        b = self.batteries[k]
        (kind, c), = told["chemistry"].items()
        b["kind"] = {"plain": PLAIN, "lead_acid": LEAD, "lithium": LITHIUM}[kind]
        b["capacity_c"], b["charge_efficiency"], b["r0_ohm"] = c["capacity_c"], c["charge_efficiency"], c["r0_ohm"]
        b["j_per_k"], b["w_per_k"] = none(told["thermal"]["j_per_k"], inf), told["thermal"]["w_per_k"]
        b["full_soc"] = inf
        if kind == "lead_acid":
            for name in ("empty_v", "full_v", "emf_v_per_k", "r0_empty_rise", "r0_per_k", "depletion_per_v",
                         "depletion_soft_v", "gassing_per_k", "self_discharge_per_s"):
                b[name] = c[name]
            for name, value in c["gassing"].items():
                b[name] = value
            for short, name in (("f_", "fast"), ("s_", "slow")):
                for key, value in c[name].items():
                    b[short + key] = value
            return
        b["full_soc"] = 1.0
        for n in (0, 1):
            b[f"branch_ohm{n + 1}"], b[f"branch_s{n + 1}"] = c["branch_ohm"][n], c["branch_s"][n]
        self.table(k, 0, c["emf"], flat=False)
        if kind == "plain":
            return
        if c["ends"] == "steep":
            b["full_soc"] = constants["lithium_full_soc"]
        for name in ("activation_k", "hysteresis_v", "hysteresis_rate", "self_discharge_per_s"):
            b[name] = c[name]
        b["has_top"], b["relax_s"], b["follow_c"] = 0, inf, inf
        if c["top"]:
            b["has_top"], b["relax_s"], b["follow_c"] = 1, none(c["top"]["relax_s"], inf), c["top"]["follow_c"]
            self.table(k, 1, {"table": c["top"]["excess"]}, flat=True)

    def table(self, k, which, told, flat):
        """Intervals: below the first knot, between knots, above the last; each a cubic in (s - its first value)."""
        (kind, t), = told.items()
        soc, volts = ([0.0, 1.0], [t["empty_v"], t["full_v"]]) if kind == "linear" else (t["soc"], t["v"])
        cubic = PchipInterpolator(soc, volts)
        slope = cubic.derivative()
        n, rows = len(soc), self.tables[k, which]
        rows[0, :n] = soc
        rows[1, 0], rows[2, 0] = volts[0], 0.0 if flat else float(slope(soc[0]))
        for i in range(n - 1):
            rows[1:, i + 1] = cubic.c[::-1, i]
        rows[1, n], rows[2, n] = volts[-1], 0.0 if flat else float(slope(soc[-1]))
        self.knots[k, which] = n

    def fuse_list(self, model):
        """Curves of up to four fuses: input cable's battery and unit end, output cable's. No curve: a count of 0."""
        self.fuse_points = np.zeros((4, 3, 32))     # times rating, ln of it, ln of seconds
        self.fuse_numbers = np.zeros((4, 3))        # points, rating, cools_s
        places = [(c, e) for c in ("input_cable", "output_cable") for e in ("battery_end_fuse", "unit_end_fuse")]
        for k, (cable, end) in enumerate(places):
            fuse = self.link[cable][end]
            if not fuse or not fuse["opening"]:
                continue
            opening = fuse["opening"]
            curve = opening["curves"][("early", "between", "late").index(opening["at"])]
            n = len(curve["times_rating"])
            self.fuse_points[k, 0, :n] = curve["times_rating"]
            self.fuse_points[k, 1, :n] = np.log(curve["times_rating"])
            self.fuse_points[k, 2, :n] = np.log(curve["opens_s"])
            self.fuse_numbers[k] = n, fuse["rating_a"], none(opening["cools_s"], inf)

    def start(self):
        """The states of section 2, but for the filter, which needs the first network."""
        y = np.zeros(SIZE)
        first, model = self.pieces[0], self.told["model"]
        air, bay = first["air_c"], first["bay_c"]
        for at, name in ((SB, "starter"), (HB, "house")):
            (_, c), = model[name]["chemistry"].items()
            y[at + S] = c["start_soc"]
            y[at + TEMP] = none(model[name]["start_c"], air)
            y[at + HYST] = c.get("start_hysteresis", 0.0)
        y[CASE] = y[LOCKER] = air
        y[IN_WIRE:IN_WIRE + 2], y[IN_WIRE + 2:IN_WIRE + 4] = bay, air
        y[OUT_WIRE:OUT_WIRE + 4] = air
        y[IN_JOINT], y[OUT_JOINT] = bay, air
        y[WINDING], y[SET_V] = bay, model["alternator"]["set_point_v"]
        y[REGULATOR] = none((model["alternator"]["regulator"] or {}).get("start_c"), air)
        return y
