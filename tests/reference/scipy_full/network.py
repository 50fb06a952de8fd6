"""Volts and amps at one instant (sections 4 to 6). Nothing is held: each call finds the operating point anew."""
from math import exp, inf, sqrt

from battery import port
from compiled import compiled
from params import (ALT_A, CASE, HB, IN_WIRE, OUT_WIRE, REGULATOR, SB, SET_V, TEMP, WINDING)

# ---- the point: where each number stands ----

(V_SB, V_IN, V_OUT, V_HB, I_ALT, I_SOL, I_SB, I_IN, I_OUT, I_HB, I_PV, I_MAINS, I_LOAD, P_LOAD, E_SB, E_HB, R_SB, R_HB,
 R_IN, R_OUT, ALT_CAP, ALT_FULL, I_REG, LIMIT, ALLOWED, NEAR_MOST, TARGET_V) = range(27)
POINT = 27

LIMITS = ("off", "output_current", "voltage", "idle", "input_current", "source", "source_kink", "floor", "starved")
OFF, CURRENT, VOLTAGE, IDLE, INPUT, SOURCE, KINK, FLOOR, STARVED = range(9)


# ---- starter bus: each source idle above U, regulating down to V_full, then full ----

@compiled
def source_a(v, u, r, cap):
    if cap <= 0 or v >= u:
        return 0.0
    return min((u - v) / r, cap)


@compiled
def left_for_unit(w, v):
    """I_IN that the starter bus can spare at V."""
    i = w[0] - (v - w[1]) / w[2]
    for k in range(2):
        i += source_a(v, w[3 + 3 * k], w[4 + 3 * k], w[5 + 3 * k])
    return i


@compiled
def starter_pieces(w):
    """The line I_IN -> V_SB as straight pieces by rising current. w[0..8]: I_fixed, E, R, then U, r, cap of two sources.
    Fills w[20..]: for each piece the current it ends at, V_0, 1/G. Returns their number."""
    n = 0
    for k in range(2):
        if w[5 + 3 * k] > 0:
            w[10 + n] = w[3 + 3 * k]
            w[11 + n] = w[3 + 3 * k] - w[4 + 3 * k] * w[5 + 3 * k]
            n += 2
    for a in range(1, n):                       # falling volts
        for c in range(a, 0, -1):
            if w[10 + c] > w[9 + c]:
                w[10 + c], w[9 + c] = w[9 + c], w[10 + c]
    for p in range(n + 1):
        if n == 0:
            middle = w[1]
        elif p == 0:
            middle = w[10] + 1
        elif p == n:
            middle = w[9 + n] - 1
        else:
            middle = 0.5 * (w[9 + p] + w[10 + p])
        g, a = 1 / w[2], w[0] + w[1] / w[2]
        for k in range(2):
            u, r, cap = w[3 + 3 * k], w[4 + 3 * k], w[5 + 3 * k]
            if cap <= 0 or middle >= u:
                continue
            if middle > u - r * cap:
                g += 1 / r
                a += u / r
            else:
                a += cap
        w[20 + 3 * p] = inf if p == n else left_for_unit(w, w[10 + p])
        w[21 + 3 * p], w[22 + 3 * p] = a / g, 1 / g
    return n + 1


@compiled
def starter_v(w, pieces, i):
    for p in range(pieces):
        if i <= w[20 + 3 * p]:
            return w[21 + 3 * p] - w[22 + 3 * p] * i
    return 0.0


@compiled
def draw(w, pieces, r_in, power, limit_a, floor_v):
    """Smallest input current that brings `power`, else the current of the greatest power; with the name of what rules."""
    low = 0.0
    best_w, best_a, best = -inf, 0.0, SOURCE
    for p in range(pieces):
        v0, rho = w[21 + 3 * p], w[22 + 3 * p] + r_in
        end = w[20 + 3 * p]
        if end <= low:
            continue
        high, why = end, KINK
        floor_a = (v0 - floor_v) / rho
        if limit_a <= high:
            high, why = limit_a, INPUT
        if floor_a < high:
            high, why = floor_a, FLOOR
        if high < low:
            # Already below the floor where this piece begins: only where it is the first one.
            if p == 0 or best_w == -inf:
                best_a, best_w, best = 0.0, 0.0, FLOOR
            break
        peak = v0 / (2 * rho)
        top, name = high, why
        if peak <= low:
            top, name = low, KINK if low > 0 else SOURCE
        elif peak < high:
            top, name = peak, SOURCE
        most = top * (v0 - rho * top)
        if most >= power:
            d = v0 * v0 - 4 * rho * power
            return 2 * power / (v0 + sqrt(max(d, 0.0))), -1
        if most > best_w:
            best_w, best_a, best = most, top, name
        if why != KINK:
            break
        low = end
    return best_a, best


# ---- house bus ----

@compiled
def watts_full_v(u, r, cap):
    d = u * u - 4 * r * cap
    return 0.5 * (u + sqrt(d)) if d > 0 else 0.5 * u


@compiled
def pv_a(h, v):
    """Solar regulator, ceiling in watts. h: E, R, refused, P_load, then U, r, W of the sun, U, r, A of the mains."""
    if h[6] <= 0 or v >= h[4]:
        return 0.0
    if v > watts_full_v(h[4], h[5], h[6]):
        return (h[4] - v) / h[5]
    return h[6] / v


@compiled
def house_battery_a(h, v):
    return 0.0 if h[2] > 0 and v >= h[0] else (v - h[0]) / h[1]


@compiled
def house_need_a(h, v):
    """I_OUT that the house bus takes at V."""
    return h[3] / v + house_battery_a(h, v) - pv_a(h, v) - source_a(v, h[7], h[8], h[9])


@compiled
def house_lines(h, v, out):
    """Conductance, amperes, net constant power at V, with the sources in the state they have just there."""
    g = a = 0.0
    power = h[3]
    if not (h[2] > 0 and v >= h[0]):
        g += 1 / h[1]
        a += h[0] / h[1]
    if h[6] > 0 and v < h[4]:
        if v > watts_full_v(h[4], h[5], h[6]):
            g += 1 / h[5]
            a += h[4] / h[5]
        else:
            power -= h[6]
    if h[9] > 0 and v < h[7]:
        if v > h[7] - h[8] * h[9]:
            g += 1 / h[8]
            a += h[7] / h[8]
        else:
            a += h[9]
    out[0], out[1], out[2] = g, a, power


@compiled
def house_v(h, i, conductance, above_v, out):
    """Lowest V above `above_v` that holds, with I_OUT = i - conductance V. None: infinity."""
    n = 0
    if h[2] > 0:
        out[10] = h[0]
        n = 1
    if h[6] > 0:
        out[10 + n], out[11 + n] = h[4], watts_full_v(h[4], h[5], h[6])
        n += 2
    if h[9] > 0:
        out[10 + n], out[11 + n] = h[7], h[7] - h[8] * h[9]
        n += 2
    for a in range(1, n):                       # rising volts
        for c in range(a, 0, -1):
            if out[10 + c] < out[9 + c]:
                out[10 + c], out[9 + c] = out[9 + c], out[10 + c]
    low = 0.0
    for p in range(n + 1):
        high = inf if p == n else out[10 + p]
        if high <= low:
            continue
        middle = low + 1 if high == inf else 0.5 * (low + high)
        house_lines(h, middle, out)
        g, b, power = out[0] + conductance, out[1] + i, out[2]
        v = -1.0
        if g > 0:
            d = b * b - 4 * g * power
            if d >= 0:
                v = (b + sqrt(d)) / (2 * g)
        elif power < 0 and b < 0:
            v = power / b
        edge = 1e-13 * (1 + abs(v))
        if v > 0 and low - edge <= v <= high + edge and v >= above_v - edge:
            return v
        low = high
    return inf


@compiled
def house_v_for_watts(h, power, r_out, most_a, out):
    """I_OUT and V_HB where the output power is given: I (V + R_out I) = P, by a guarded Newton."""
    low, high = 0.0, most_a
    i = power / h[0]
    if not (low < i < high):
        i = 0.5 * high
    v = house_v(h, i, 0.0, 0.0, out)
    for _ in range(200):
        if v == inf:
            high = i
            i = 0.5 * (low + high)
            v = house_v(h, i, 0.0, 0.0, out)
            continue
        miss = i * (v + r_out * i) - power
        if miss > 0:
            high = i
        else:
            low = i
        house_lines(h, v, out)
        slope = v + 2 * r_out * i + i / max(out[0] - out[2] / (v * v), 1e-9)
        step = miss / slope
        new = i - step
        if not (low < new < high):
            new = 0.5 * (low + high)
        if abs(new - i) <= 1e-15 * (1 + abs(i)):
            break
        i = new
        v = house_v(h, i, 0.0, 0.0, out)
    return i, v


# ---- what the parts are at this instant ----

@compiled
def cable_ohm(m, wires, y, at, joints_ohm):
    r = joints_ohm
    for n in range(4):
        warm = 1 + m.copper_per_k * (y[at + n] - m.copper_reference_c) if wires[n, 1] > 0 else 1.0
        r += wires[n, 0] * warm
    return r


@compiled
def alternator_cap_a(m, g, y):
    n = g.engine_rpm * m.pulley_ratio
    if n <= m.cut_in_rpm:
        return 0.0
    cap = m.asymptote_a * (1 - exp(-(n - m.cut_in_rpm) / m.rise_rpm))
    if m.derate_per_k != 0:
        cap *= max(m.winding_least_share, 1 - m.derate_per_k * (y[WINDING] - m.winding_reference_c))
    return cap


@compiled
def set_point_v(m, g, y):
    if m.has_rule:
        return y[SET_V]
    u = g.set_point_v
    if not g.as_read:
        t = y[REGULATOR] if m.has_regulator else g.air_c
        u += m.set_point_v_per_k * (t - m.set_point_reference_c)
    return u


@compiled
def derate(m, y):
    t = y[CASE]
    if t <= m.derate_from_c:
        return 1.0
    return max(0.0, (m.derate_to_c - t) / (m.derate_to_c - m.derate_from_c))


@compiled
def solve(t, y, m, g, batteries, tables, knots, wires, w, h, out, p):
    """The operating point into `p`. w, h, out: room to work in."""
    e_sb, r_sb = port(m, batteries[0], tables[0], knots[0], y, SB)
    e_hb, r_hb = port(m, batteries[1], tables[1], knots[1], y, HB)
    r_in = cable_ohm(m, wires[0], y, IN_WIRE, m.in_joints_ohm) + g.extra_ohm
    r_out = cable_ohm(m, wires[1], y, OUT_WIRE, m.out_joints_ohm)
    p[E_SB], p[R_SB], p[E_HB], p[R_HB], p[R_IN], p[R_OUT] = e_sb, r_sb, e_hb, r_hb, r_in, r_out

    cap = alternator_cap_a(m, g, y)
    p[ALT_CAP] = cap
    load = 0.0
    if not g.dead:
        load = g.vehicle_load_a
        if g.cranking:
            load += m.crank_a
        if g.awake:
            load += m.awake_a
    w[0], w[1], w[2] = -load, e_sb, r_sb
    u = set_point_v(m, g, y)
    w[3], w[4], w[5] = u, m.alt_droop_ohm, cap if g.charging else 0.0
    if m.has_pick_up:
        w[5] = 0.0
        if g.charging:
            w[0] += y[ALT_A]
    w[6], w[7], w[8] = m.ss_set_v, m.ss_droop_ohm, g.starter_solar_a
    pieces = starter_pieces(w)

    shed = g.shed
    h[0], h[1], h[2] = e_hb, r_hb, float(g.refused)
    h[3] = (0.0 if shed else g.house_load_w) + (m.heater_w if g.mat else 0.0)
    h[4], h[5], h[6] = m.hs_set_v, m.hs_droop_ohm, g.house_solar_w
    h[7], h[8], h[9] = m.hm_set_v, m.hm_droop_ohm, g.mains_a

    target = (m.float_v if g.floating else m.absorption_v) + m.v_per_k * (y[HB + TEMP] - m.stages_reference_c)
    p[TARGET_V] = target
    i_out, v_hb, v_out = 0.0, 0.0, 0.0
    limit = OFF
    allowed = 0.0
    open_in = g.input_open
    carried = True              # else the bus cannot carry its load, which is shed before anything is made of it
    if not g.on or open_in:
        v_hb = house_v(h, 0.0, 0.0, 0.0, out)
        v_out = v_hb
        i_in = 0.0 if open_in or g.dead else m.standby_a
    else:
        allowed = m.output_limit_a * derate(m, y)
        if g.ramping:
            allowed *= min(1.0, (t - g.ramp_from_s) / g.ramp_s)
        rho = 0.0 if m.posts_sensed else r_out
        if g.output_open:
            limit, v_hb = IDLE, house_v(h, 0.0, 0.0, 0.0, out)
            v_out = target
        else:
            limit, i_out = CURRENT, allowed
            v_hb = house_v(h, allowed, 0.0, 0.0, out)
            if v_hb + rho * allowed > target:
                limit = VOLTAGE
                if rho > 0:
                    v_hb = house_v(h, target / rho, 1 / rho, 0.0, out)
                    i_out = (target - v_hb) / rho
                else:
                    v_hb = target
                    i_out = house_need_a(h, v_hb)
                if i_out < -1e-9:
                    v_hb = house_v(h, 0.0, 0.0, v_hb, out)
                    if v_hb > target + (0.0 if g.idle else m.idle_band_v):
                        limit = IDLE
                i_out = max(i_out, 0.0)
            if v_hb == inf:
                carried, v_hb = False, 0.5 * e_hb
            v_out = v_hb + r_out * i_out
        p_out = v_out * i_out
        p_in = p_out + m.fixed_w + p_out * (m.proportional + m.square_per_w * p_out)
        i_in, why = draw(w, pieces, r_in, p_in, m.input_limit_a, m.floor_v)
        if why >= 0:
            limit = why
            spare = i_in * (starter_v(w, pieces, i_in) - r_in * i_in) - m.fixed_w
            if spare <= 0 or g.output_open:
                i_out = 0.0
                v_hb = house_v(h, 0.0, 0.0, 0.0, out)
                v_out = v_hb
                i_in, none_for_it = draw(w, pieces, r_in, m.fixed_w, m.input_limit_a, -1e9)
                limit = STARVED
            else:
                k = 1 + m.proportional
                p_out = 2 * spare / (k + sqrt(k * k + 4 * m.square_per_w * spare))
                i_out, v_hb = house_v_for_watts(h, p_out, r_out, i_out, out)
                v_out = v_hb + r_out * i_out
    p[LIMIT], p[ALLOWED] = limit, allowed
    if v_hb == inf:
        carried, v_hb = False, 0.5 * e_hb
        v_out = v_hb + r_out * i_out

    v_sb = starter_v(w, pieces, i_in)
    p[V_SB], p[I_IN] = v_sb, i_in
    p[V_IN] = 0.0 if open_in else v_sb - r_in * i_in
    p[I_SB] = (v_sb - e_sb) / r_sb
    p[I_SOL] = source_a(v_sb, w[6], w[7], w[8])
    p[I_REG] = source_a(v_sb, u, m.alt_droop_ohm, cap) if g.charging else 0.0
    if m.has_pick_up:
        p[I_ALT] = y[ALT_A] if g.charging else 0.0
        p[ALT_FULL] = 0.0
    else:
        p[I_ALT] = p[I_REG]
        p[ALT_FULL] = 1.0 if g.charging and cap > 0 and v_sb < u - m.alt_droop_ohm * cap - 1e-10 else 0.0
    p[I_LOAD] = load
    p[V_HB], p[V_OUT], p[I_OUT] = v_hb, v_out, i_out
    p[I_PV] = pv_a(h, v_hb)
    p[I_MAINS] = source_a(v_hb, h[7], h[8], h[9])
    p[P_LOAD] = h[3]
    p[I_HB] = house_battery_a(h, v_hb)

    # How near the house bus is to the most it can carry (section 12).
    house_lines(h, v_hb, out)
    g_all, a_all, power = out[0], out[1], out[2]
    near = 0.0 if carried else 1.0
    if power > 0 and g_all > 0:
        if g.on and limit == VOLTAGE and i_out > 0:
            rho = 0.0 if m.posts_sensed else r_out
            b, c = target + a_all * rho, (1 + g_all * rho) * rho
        else:
            b, c = a_all + i_out, g_all
        if b <= 0 or 1 - m.near_most_share - 4 * c * power / (b * b) < 0:
            near = 1.0
    p[NEAR_MOST] = near
