"""One number of each equation group, changed on this side alone; each must be noticed.

Group, what makes the scenario (changes to `reference-van-full.toml`), where the number stands in the JSON, by how much it is
multiplied. A hundredth, where a hundredth of it is worth anything.
"""

LINK = "links.0."
LEAD, LI = "starter.chemistry.lead_acid.", "house.chemistry.lithium."
SHORT = ["drive.piece.3.duration_min=1"]
THIN = ["input_cable.joints_mohm=27", *SHORT]
FULL = ["house_battery.start_pct=97"]
COLD = ["house_battery.start_c=-10", "protection.heater_w=100"]
HOT = ["drive.air_c=50", "converter.locker_w_per_k=0.7", "converter.lock_c=82", *SHORT]
RULE = ["alternator.regulation=variable-deep", "start_stop.turn_on_v=12.7", "start_stop.turn_off_v=12.2", *SHORT]
SHALLOW = ["alternator.regulation=variable-shallow", *SHORT]
IN_BAY = ["starter_battery.place=bay"]
AT_AIR = ["alternator.compensated_by=air", "drive.air_c=5"]
LONG_PARKED = ["drive.piece.1.duration_s=7200"]
SLOW = ["drive.piece.2.engine_rpm=800"]
LOW = ["starter_battery.start_pct=1", "vehicle.parked_load_a=40", "drive.piece.1.duration_s=600"]
FUSED = ["input_cable.fuse_a=35", "input_cable.fuse_kind=iso-8820-3-f"]
HUNGRY = ["house_battery.start_pct=1", "house.load_w=300"]
SUN = [*FULL, "house_solar.power_w=250", "house_mains.current_a=4"]
KEPT = ["starter_solar.power_w=30", "drive.piece.1.duration_s=7200"]
WANTS = [*FULL, "stages.recharge_v=13.45", "drive.piece=[{duration_s=60,engine_rpm=0},{duration_min=45,engine_rpm=2000},"
         "{duration_min=20,engine_rpm=2000,house_load_w=900}]"]

BITES = [
    ("3.2 rest volts", [], LEAD + "full_v", 1.001),
    ("3.2 series resistance", [], LEAD + "r0_ohm", 1.01),
    ("3.2 cold series resistance", ["drive.air_c=-10", *THIN], LEAD + "r0_per_k", 1.01),
    ("3.2 fast branch", [], LEAD + "fast.discharge_ohm", 1.01),
    ("3.2 slow branch", [], LEAD + "slow.discharge_ohm", 1.01),
    ("3.2 acceptance", [], LEAD + "slow.acceptance", 1.01),
    ("3.2 charge of a warm branch", ["drive.air_c=0"], LEAD + "slow.charge_per_k", 1.01),
    ("3.2 soft knee on charge", [], LEAD + "slow.charge_soft_v", 1.01),
    ("3.2 soft knee on charge, its power", [], LEAD + "slow.charge_power", 1.01),
    ("3.2 soft knee on discharge", LOW, LEAD + "slow.discharge_soft_v", 1.01),
    ("3.2 soft knee of the fast branch", [], LEAD + "fast.charge_soft_v", 1.01),
    ("3.2 local depletion", LOW, LEAD + "depletion_per_v", 1.01),
    ("3.2 local depletion's knee", LOW, LEAD + "depletion_soft_v", 1.01),
    ("3.2 gassing", [], LEAD + "gassing.scale_a", 1.01),
    ("3.2 warm gassing", [], LEAD + "gassing_per_k", 1.01),
    ("3.2 self-discharge", [], LEAD + "self_discharge_per_s", 1.1),
    ("3.3 series resistance", THIN, LI + "r0_ohm", 1.01),
    ("3.3 cold resistances", [], LI + "activation_k", 1.01),
    ("3.3 hysteresis", FULL, LI + "hysteresis_v", 1.01),
    ("3.3 hysteresis, how soon", FULL, LI + "hysteresis_rate", 1.01),
    ("3.3 branches", FULL, LI + "branch_ohm.1", 1.01),
    ("3.3 top, how soon", FULL, LI + "top.follow_c", 1.01),
    ("3.3 top, how it relaxes", FULL, LI + "top.relax_s", 1.01),
    ("3.3 self-discharge", [], LI + "self_discharge_per_s", 1.5),
    ("3.4 table", FULL, LI + "emf.table.v.7", 1.001),
    ("3.5 lead-acid's heat capacity", [], "starter.thermal.j_per_k", 1.01),
    ("3.5 starter battery in the engine bay", IN_BAY, "vehicle.starter_in_bay", 0),
    ("3.5 lithium's heat capacity", [], "house.thermal.j_per_k", 1.01),
    ("3.5 heat carried off by gas", [], LEAD + "gassing.carried_v", 1.1),
    ("4 sources: droop", [], "alternator.droop_ohm", 1.01),
    ("4 sources: maintainer", KEPT, "starter_solar.set_v", 1.001),
    ("5.1 sources: sun", SUN, "house_solar.droop_ohm", 1.01),
    ("5.1 sources: mains", SUN, "house_mains.set_v", 1.001),
    ("5.2 loss, fixed", [], LINK + "converter.loss.fixed_w", 1.01),
    ("5.2 loss, proportional", [], LINK + "converter.loss.proportional", 1.01),
    ("5.2 loss, square", [], LINK + "converter.loss.square_per_w", 1.01),
    ("5.3 output limit", [], LINK + "converter.output_limit_a", 1.01),
    ("5.3 input limit", ["converter.input_limit_a=38"], LINK + "converter.input_limit_a", 1.01),
    ("5.3 floor", ["input_cable.joints_mohm=20", "converter.input_floor_v=12.9"], LINK + "converter.floor_v", 1.001),
    ("5.3 stage volts' compensation", [*FULL, "stages.compensation_mv_per_k=-20"], LINK + "stages.v_per_k", 1.01),
    ("5.4 soft start", THIN, LINK + "converter.ramp_s", 1.01),
    ("6 capability", SLOW, "alternator.rise_rpm", 1.01),
    ("6 derating of the winding", SLOW, "alternator.heat.derate_per_k", 1.01),
    ("6 winding's heat", SLOW, "alternator.heat.full_rise_k", 1.01),
    ("6 regulator's compensation", [], "alternator.set_point_v_per_k", 1.01),
    ("6 compensation by the air", AT_AIR, "alternator.set_point_v_per_k", 1.01),
    ("6 regulator's rise", [], "alternator.regulator.rise_k", 1.01),
    ("6 regulator warms", [], "alternator.regulator.warms_s", 1.01),
    ("6 regulator cools", LONG_PARKED + ["alternator.regulator_start_c=80"], "alternator.regulator.cools_s", 1.01),
    ("6 regulator's start", ["alternator.regulator_start_c=80"], "alternator.regulator.start_c", 1.01),
    ("6 build-up", [], "alternator.build_up_s", 1.01),
    ("6 pick-up's rate", THIN, "alternator.pick_up.rate_a_per_s", 1.01),
    ("6 pick-up's lag", THIN, "alternator.pick_up.lag_s", 1.01),
    ("6 variable set-point", RULE, "alternator.rule.cruise_v", 1.001),
    ("6 variable set-point's slew up", [*SHALLOW, "alternator.slew_up_v_per_s=0.02"], "alternator.rule.up_v_per_s", 1.1),
    ("6 variable set-point's slew down", RULE, "alternator.rule.down_v_per_s", 1.1),
    ("6 variable set-point's start-up volts", SHALLOW, "alternator.rule.start_up_v", 1.001),
    ("6 variable set-point's start-up hold", SHALLOW, "alternator.rule.start_up_s", 1.01),
    ("7 conductor's heat", THIN, LINK + "input_cable.conductors.2.w_per_k", 1.01),
    ("7 conductor's resistance", [], LINK + "input_cable.conductors.0.ohm_20", 1.01),
    ("7 joint's resistance", THIN, LINK + "input_cable.joints_ohm", 1.01),
    ("7 joint's heat", SHORT, LINK + "input_cable.joints_w_per_k", 1.01),
    ("7 output cable", FULL, LINK + "output_cable.conductors.1.ohm_20", 1.01),
    ("7 fuse", FUSED, LINK + "input_cable.battery_end_fuse.opening.curves.1.opens_s.1", 1.01),
    ("8 case", HOT, LINK + "converter.case_w_per_k", 1.01),
    ("8 locker", HOT, LINK + "converter.locker.w_per_k", 1.01),
    ("8 derating of the unit", HOT, LINK + "converter.derate_from_c", 1.01),
    ("10 turn-on", ["start_stop.turn_on_v=14.09"], LINK + "start_stop.turn_on_v", 1.0001),
    ("10 turn-on delay", [], LINK + "start_stop.turn_on_delay_s", 1.01),
    ("10 turn-off", THIN, LINK + "start_stop.turn_off_v", 1.001),
    ("10 filter", [*THIN, "start_stop.filter_s=1"], LINK + "start_stop.filter_s", 1.01),
    ("10 compensation of the input", [*THIN, "start_stop.compensation_mohm=5"], LINK + "start_stop.compensation_ohm", 1.01),
    ("11 cranking", [], "vehicle.crank_a", 1.01),
    ("11 collapse", LOW, "vehicle.drop_out_v", 1.01),
    ("11 return", [*LOW, "vehicle.loads_return_v=12.6"], "vehicle.return_v", 1.01),
    ("12 refusal for cold", COLD, "protection.cold_release_c", 1.01),
    ("12 refusal for high volts", [*FULL, "protection.high_v=14", "protection.high_release_v=13.6"], "protection.high_v", 1.001),
    ("12 refusal for high volts, by time", ["house_battery.r0_mohm=25", "protection.high_v=14", "protection.high_release_v=13.6"],
     "protection.over_release_s", 1.01),
    ("12 heater mat", COLD, "protection.heater_w", 1.01),
    ("12 loads, when they come back", HUNGRY, "house_loads.return_v", 1.01),
    ("12 loads, when they stop", [*HUNGRY, "house.loads_stop_v=11.5"], "house_loads.stop_v", 1.01),
    ("13 absorption volts", FULL, LINK + "stages.absorption_v", 1.001),
    ("13 tail", FULL, LINK + "stages.tail_a", 1.01),
    ("13 cap", ["house_battery.start_pct=95", "house.load_w=100", "stages.tail_a=4", "drive.piece.2.duration_min=150"], LINK + "stages.absorption_cap_s", 1.01),
    ("13 recharge", WANTS, LINK + "stages.recharge_hold_s", 1.01),
    ("constants: copper", THIN, "constants.copper_per_k", 1.01),
]


def turned(told, path, factor):
    """Multiplies the number at `path`, below `model` or, where it begins so, below `constants`."""
    at = told if path.startswith("constants.") else told["model"]
    *way, last = [int(w) if w.isdigit() else w for w in path.split(".")]
    for word in way:
        at = at[word]
    if not at[last]:
        raise SystemExit(f"{path} is {at[last]}: nothing to change")
    at[last] *= factor
