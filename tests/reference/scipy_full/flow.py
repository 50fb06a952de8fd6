"""Rates of all states and ledger lines at one instant, and the conditions that the rules read there."""
from math import exp, log

from battery import battery_rates, full_from_a
from compiled import compiled
from network import (ALT_CAP, ALT_FULL, E_HB, I_ALT, I_HB, I_IN, I_LOAD, I_MAINS, I_OUT, I_PV, I_REG,
                     I_SB, I_SOL, IDLE, LIMIT, NEAR_MOST, P_LOAD, R_SB, V_HB, V_IN, V_OUT, V_SB, VOLTAGE,
                     solve)
from params import (ALT_A, CASE, FILTER_V, HB, IN_JOINT, IN_WIRE, LOCKER, OUT_JOINT, OUT_WIRE, REGULATOR, S, SB, SET_V,
                    STATES, TEMP, WEAR, WINDING)

# ---- conditions: one bit each, above the limit's four ----

(LIMIT_BITS, ALT_BIT, FULL0_BIT, FULL1_BIT, ON_BIT, OFF_BIT, LOCK_BIT, FREE_BIT, TAIL_BIT, RECHARGE_BIT, COLD_BIT, HIGH_BIT,
 OVER_BIT, RELEASED_BIT, SHED_BIT, BACK_BIT, FED_BIT, MAT_HOLD_BIT, DEAD_BIT, RETURN_BIT, LOW_SOC_BIT, ARRIVED_BIT, FUSE_BIT,
 TARGET_BIT, OUT0_BIT, OUT1_BIT) = (0, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 29, 30, 31)


@compiled
def wire_rates(m, wires, y, at, i, g, dy):
    heat = 0.0
    for n in range(4):
        if wires[n, 1] <= 0:
            heat += i * i * wires[n, 0]
            continue
        r = wires[n, 0] * (1 + m.copper_per_k * (y[at + n] - m.copper_reference_c))
        air = g.bay_c if wires[n, 3] > 0 else g.air_c
        dy[at + n] = (i * i * r - wires[n, 2] * (y[at + n] - air)) / wires[n, 1]
        heat += i * i * r
    return heat


@compiled
def wear_rate(points, numbers, i, x):
    """Section 7, fuses: how fast the wear moves."""
    n = int(numbers[0])
    if n == 0:
        return 0.0
    times = abs(i) / numbers[1]
    if times < points[0, 0]:
        share = times / points[0, 0]
        return -x * (1 - share * share) / numbers[2]
    k = 0
    while k < n - 2 and times > points[0, k + 1]:
        k += 1
    slope = (points[2, k + 1] - points[2, k]) / (points[1, k + 1] - points[1, k])
    return 1 / exp(points[2, k] + slope * (log(times) - points[1, k]))


@compiled
def rates(t, y, m, g, batteries, tables, knots, wires, fuse_points, fuse_numbers, room, dy):
    w, h, out, p, lines = room[0], room[1], room[2], room[3], room[4]
    solve(t, y, m, g, batteries, tables, knots, wires, w, h, out, p)
    dy[:] = 0.0
    L = STATES
    mat_w = m.heater_w if g.mat else 0.0
    for k in range(2):
        b = batteries[k]
        i = p[I_HB] if k else p[I_SB]
        full = g.full1 if k else g.full0
        around_c = g.bay_c if k == 0 and m.starter_in_bay else g.air_c
        battery_rates(m, b, tables[k], knots[k], y, HB if k else SB, i, full, mat_w if k else 0.0, around_c, dy, lines)
        dy[L + 13 + k], dy[L + 15 + k] = lines[0], lines[1]
        dy[L + 19 + k], dy[L + 21 + k] = lines[2], lines[3]
        dy[L + 36 + k], dy[L + 38 + k], dy[L + 40 + k] = lines[4], lines[5], lines[6]

    i_in, i_out = p[I_IN], p[I_OUT]
    in_w, out_w = p[V_IN] * i_in, p[V_OUT] * i_out
    around = y[LOCKER] if m.locker_j_per_k < 1e300 else g.air_c
    dy[CASE] = (in_w - out_w - m.case_w_per_k * (y[CASE] - around)) / m.case_j_per_k
    dy[LOCKER] = (m.case_w_per_k * (y[CASE] - y[LOCKER]) - m.locker_w_per_k * (y[LOCKER] - g.air_c)) / m.locker_j_per_k

    in_heat = wire_rates(m, wires[0], y, IN_WIRE, i_in, g, dy)
    out_heat = wire_rates(m, wires[1], y, OUT_WIRE, i_out, g, dy)
    joint_w = i_in * i_in * (m.in_joints_ohm + g.extra_ohm)
    if m.in_joints_j > 0:
        air = g.bay_c if m.in_joints_in_bay else g.air_c
        dy[IN_JOINT] = (joint_w - m.in_joints_w * (y[IN_JOINT] - air)) / m.in_joints_j
    in_heat += joint_w
    joint_w = i_out * i_out * m.out_joints_ohm
    if m.out_joints_j > 0:
        dy[OUT_JOINT] = (joint_w - m.out_joints_w * (y[OUT_JOINT] - g.air_c)) / m.out_joints_j
    out_heat += joint_w
    for k in range(4):
        dy[WEAR + k] = wear_rate(fuse_points[k], fuse_numbers[k], i_in if k < 2 else i_out, y[WEAR + k])

    share = p[I_ALT] / m.asymptote_a
    dy[WINDING] = (g.bay_c + m.heat_rise_k * share * share - y[WINDING]) / m.heat_time_s
    if m.has_regulator:
        if g.engine_rpm > 0:
            dy[REGULATOR] = (g.bay_c + m.regulator_rise_k - y[REGULATOR]) / m.regulator_warms_s
        else:
            dy[REGULATOR] = (g.bay_c - y[REGULATOR]) / m.regulator_cools_s
    if m.has_pick_up and g.charging:
        dy[ALT_A] = min(m.rate_a_per_s, (p[I_REG] - y[ALT_A]) / m.lag_s)
    if g.set_direction != 0:
        dy[SET_V] = m.up_v_per_s if g.set_direction > 0 else -m.down_v_per_s
    if m.filter_s > 0:
        dy[FILTER_V] = (p[V_IN] + m.compensation_ohm * i_in - y[FILTER_V]) / m.filter_s

    parked = 0.0 if g.running else 1.0
    dy[L], dy[L + 1], dy[L + 2], dy[L + 3], dy[L + 4] = p[I_ALT], p[I_SOL], p[I_LOAD], p[I_SB], p[I_HB]
    dy[L + 5], dy[L + 6], dy[L + 7] = max(0.0, -p[I_SB]), i_in, i_out
    dy[L + 8], dy[L + 9] = i_in * parked, i_out * parked
    dy[L + 10], dy[L + 11], dy[L + 12] = p[I_PV], p[I_MAINS], p[P_LOAD] / p[V_HB]
    if g.dead:
        dy[L + 17] = wanted_a(m, g)
    if g.shed:
        dy[L + 18] = g.house_load_w
    v = p[V_SB]
    dy[L + 23], dy[L + 24], dy[L + 25], dy[L + 26] = v * p[I_ALT], v * p[I_SOL], v * p[I_LOAD], v * p[I_SB]
    v = p[V_HB]
    dy[L + 27], dy[L + 28], dy[L + 29], dy[L + 30] = v * p[I_PV], v * p[I_MAINS], v * p[I_HB], p[P_LOAD]
    dy[L + 31], dy[L + 32] = in_w, out_w
    if not g.on:
        dy[L + 33] = in_w
    else:
        loss = m.fixed_w + out_w * (m.proportional + m.square_per_w * out_w)
        dy[L + 33] = min(loss, in_w) if i_out == 0 else loss
    dy[L + 34], dy[L + 35] = in_heat, out_heat


@compiled
def wanted_a(m, g):
    """The starter side's loads of section 4, were it not dead."""
    return g.vehicle_load_a + (m.crank_a if g.cranking else 0.0) + (m.awake_a if g.awake else 0.0)


@compiled
def seen_v(m, y, p):
    return y[FILTER_V] if m.filter_s > 0 else p[V_IN] + m.compensation_ohm * p[I_IN]


@compiled
def wants_full(m, b, y, at, i, full):
    if b.full_soc > 1e300:
        return False
    reached = full or y[at + S] >= b.full_soc
    return reached and i >= full_from_a(m, b, y, at)


@compiled
def look(t, y, m, g, batteries, tables, knots, wires, fuse_numbers, room):
    """Bits of all conditions at this instant; the point stays in room[3]."""
    p = room[3]
    solve(t, y, m, g, batteries, tables, knots, wires, room[0], room[1], room[2], p)
    limit = int(p[LIMIT])
    bits = limit
    if p[ALT_FULL] > 0:
        bits |= 1 << ALT_BIT
    if wants_full(m, batteries[0], y, SB, p[I_SB], g.full0):
        bits |= 1 << FULL0_BIT
    if wants_full(m, batteries[1], y, HB, p[I_HB], g.full1):
        bits |= 1 << FULL1_BIT
    volts = seen_v(m, y, p)
    if volts >= g.turn_on_v:
        bits |= 1 << ON_BIT
    if volts < g.turn_off_v:
        bits |= 1 << OFF_BIT
    if y[CASE] >= m.lock_c:
        bits |= 1 << LOCK_BIT
    if y[CASE] < m.reclose_c:
        bits |= 1 << FREE_BIT
    if limit == VOLTAGE or limit == IDLE:
        bits |= 1 << TARGET_BIT
        if p[I_OUT] < m.tail_a:
            bits |= 1 << TAIL_BIT
    if p[V_OUT] < m.recharge_v:
        bits |= 1 << RECHARGE_BIT
    cells_c, v_hb, i_hb = y[HB + TEMP], p[V_HB], p[I_HB]
    if cells_c < m.cold_c:
        bits |= 1 << COLD_BIT
    if v_hb > m.high_v and i_hb > 0:
        bits |= 1 << HIGH_BIT
    if i_hb > m.over_a:
        bits |= 1 << OVER_BIT
    if (g.over_cold > 0 and cells_c >= m.cold_release_c) or (g.over_high > 0 and p[E_HB] < m.high_release_v):
        bits |= 1 << RELEASED_BIT
    s = y[HB + S]
    empty = s < 0 and i_hb < -m.rest_a
    if empty or p[NEAR_MOST] > 0 or v_hb < m.low_v or v_hb < m.stop_v:
        bits |= 1 << SHED_BIT
    volts = p[E_HB] if g.refused else v_hb
    if volts > max(m.low_release_v, m.loads_return_v) and (
            s > m.nearly_empty_soc or i_hb > g.house_load_w / v_hb):
        bits |= 1 << BACK_BIT
    if (g.on and not g.input_open and not g.output_open) or g.mains_a * m.hm_set_v >= m.heater_w or g.house_solar_w >= m.heater_w:
        bits |= 1 << FED_BIT
    if i_hb < -m.rest_a:
        bits |= 1 << MAT_HOLD_BIT
    drop_out_v = m.drop_out_v * (m.cranking_drop_out_share if g.cranking else 1.0)
    if p[V_SB] < max(m.no_supply_v, drop_out_v) or (y[SB + S] < 0 and p[I_SB] < -m.rest_a):
        bits |= 1 << DEAD_BIT
    if g.dead:
        a = wanted_a(m, g) + m.standby_a + m.return_spare_a
        spare = max(0.0, p[ALT_CAP] - p[I_ALT]) if g.charging and y[SB + S] > m.nearly_empty_soc else 0.0
        if p[V_SB] > max(m.return_v, max(m.drop_out_v, m.no_supply_v) + a * p[R_SB]) and p[I_SB] + spare > a:
            bits |= 1 << RETURN_BIT
    if g.low_soc_matters and y[SB + S] < g.low_soc:
        bits |= 1 << LOW_SOC_BIT
    if g.set_direction != 0 and (y[SET_V] - g.set_target_v) * g.set_direction >= 0:
        bits |= 1 << ARRIVED_BIT
    if p[I_SB] < -m.rest_a:
        bits |= 1 << OUT0_BIT                   # no rule hangs on these: efficiency and a ledger line have a kink there
    if i_hb < -m.rest_a:
        bits |= 1 << OUT1_BIT
    for k in range(4):
        if fuse_numbers[k, 0] > 0 and y[WEAR + k] >= 1:
            bits |= 1 << (FUSE_BIT + k)
    return bits & g.mask
