"""Rates of the six slow states and of every ledger line. Each line is a state of its own; none is a remainder."""
STATES = ["starter_soc", "starter_v1", "starter_v2", "house_soc", "house_v1", "house_v2"]
BATTERY_CHARGE = ["charged", "discharged", "lost", "refused"]
BATTERY_ENERGY = ["terminals", "stored", "on_branches", "efficiency_loss", "resistance_loss", "refused"]
CHARGE = ["alternator", "vehicle_load", "input", "output", "solar", "house_load"] + \
         [f"{b}_{k}" for b in ("starter", "house") for k in BATTERY_CHARGE]
ENERGY = ["alternator", "vehicle_load", "input_cable_loss", "unit_input", "unit_loss", "standby", "unit_output",
          "output_cable_loss", "solar", "house_load", "house_unserved"] + \
         [f"{b}_{k}" for b in ("starter", "house") for k in BATTERY_ENERGY]
SIZE = len(STATES) + len(CHARGE) + len(ENERGY)


def battery_rates(battery, soc_v1_v2, current_a, terminal_v, open_v, charging, held):
    """Derivatives of SOC and branches, then the charge lines and the energy lines of one battery."""
    _, v1, v2 = soc_v1_v2
    kept = lost = refused = 0.0
    if held == "full":
        refused = current_a
    elif charging:
        kept = battery.efficiency * current_a
        lost = current_a - kept
    else:
        kept = current_a
    loss_w = battery.r0_ohm * current_a * current_a
    branch_w = -loss_w + current_a * (terminal_v - open_v)
    d1 = (battery.r1_ohm * current_a - v1) / battery.tau1_s
    d2 = (battery.r2_ohm * current_a - v2) / battery.tau2_s
    if battery.r1_ohm:
        loss_w += v1 * v1 / battery.r1_ohm
        branch_w -= v1 * v1 / battery.r1_ohm
    if battery.r2_ohm:
        loss_w += v2 * v2 / battery.r2_ohm
        branch_w -= v2 * v2 / battery.r2_ohm
    into, out = (current_a, 0.0) if charging else (0.0, -current_a)
    return ((kept / battery.capacity_as, d1, d2), (into, out, lost, refused),
            (terminal_v * current_a, open_v * kept, branch_w, open_v * lost, loss_w,
             open_v * refused))


def rates(scenario, starter, house, state, point, regime, held_starter, held_house, unserved_w):
    p = point
    ds, qs, es = battery_rates(starter, state[0:3], p.starter_a, p.sb_v, p.starter_e_v,
                               regime.starter_charging, held_starter)
    dh, qh, eh = battery_rates(house, state[3:6], p.house_a, p.hb_v, p.house_e_v,
                               regime.house_charging, held_house)
    off = regime.output == "off"
    in_w = 0.0 if off else p.in_w
    unit_loss_w = in_w - p.out_w if regime.feed != "root" else 0.0 if off else unit_loss(scenario, p.out_w)
    return (*ds, *dh,
            p.alternator_a, p.vehicle_a, p.input_a, p.output_a, p.solar_a, p.load_a, *qs, *qh,
            p.sb_v * p.alternator_a, p.sb_v * p.vehicle_a, scenario.input_cable_ohm * p.input_a ** 2, in_w, unit_loss_w,
            p.in_w if off else 0.0, p.out_w, scenario.output_cable_ohm * p.output_a ** 2,
            p.hb_v * p.solar_a, p.hb_v * p.load_a, unserved_w, *es, *eh)


def unit_loss(s, out_w):
    return s.fixed_loss_w + out_w * (s.proportional_loss + s.square_loss_per_w * out_w)
