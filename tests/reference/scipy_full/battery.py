"""Batteries: their port, and how fast their states move (section 3)."""
from math import exp

from compiled import compiled
from params import HYST, LEAD, LITHIUM, PLAIN, S, TEMP, TOP, V1, V2


@compiled
def table_v(rows, knots, s):
    """A table's volts: the cubic of the interval that `s` lies in."""
    n = 0
    while n < knots and s > rows[0, n]:
        n += 1
    x = s - rows[0, max(n - 1, 0)]
    return rows[1, n] + x * (rows[2, n] + x * (rows[3, n] + x * rows[4, n]))


@compiled
def rested_v(m, b, tables, knots, y, at):
    """E_r of section 3.5: what the battery's volts are without branches and hysteresis, and its top's excess X."""
    s = y[at + S]
    if b.kind == LEAD:
        return b.empty_v + (b.full_v - b.empty_v) * s + b.emf_v_per_k * (y[at + TEMP] - m.lead_acid_reference_c), 0.0
    emf = table_v(tables[0], knots[0], s)
    if b.kind == LITHIUM and b.has_top:
        x = table_v(tables[1], knots[1], s)
        return emf - x, x
    return emf, 0.0


@compiled
def warmth(m, b, y, at):
    """f of section 3.3: a lithium battery's resistances over those at the reference temperature."""
    return exp(b.activation_k * (1 / (y[at + TEMP] + m.zero_c_k) - 1 / m.lithium_reference_k))


@compiled
def port(m, b, tables, knots, y, at):
    """E and R of V = E + R I."""
    rested, x = rested_v(m, b, tables, knots, y, at)
    e = rested + y[at + V1] + y[at + V2]
    if b.kind == PLAIN:
        return e, b.r0_ohm
    if b.kind == LEAD:
        d = y[at + TEMP] - m.lead_acid_reference_c
        return e, b.r0_ohm * (1 + b.r0_empty_rise * (1 - y[at + S])) * exp(-b.r0_per_k * d)
    e += y[at + TOP] * x + b.hysteresis_v * y[at + HYST]
    return e, b.r0_ohm * warmth(m, b, y, at)


@compiled
def q(x, soft_v, power):
    """A soft knee: the power `power` of x well under soft_v, x well over it."""
    if soft_v <= 0:
        return x
    y = (x / soft_v) ** (power - 1)
    return x * y / (1 + y)


@compiled
def relaxed(v, d, s, charge_share, acceptance, charge_soft_v, charge_power, discharge_soft_v, charge_per_k, discharge_per_k,
            half_soc, local):
    """p of section 3.2: what relaxes a branch that stands at v."""
    if v >= 0:
        return exp(charge_per_k * d) * charge_share * max(0.0, 1 - acceptance * s) * q(v, charge_soft_v, charge_power)
    c = 1.0
    if half_soc > 0:
        c = local / (local + half_soc) if local > 0 else 0.0
    return -exp(discharge_per_k * d) * c * q(-v, discharge_soft_v, 2.0)


@compiled
def self_discharge_a(m, b, y, at):
    if b.kind == PLAIN:
        return 0.0
    isd = b.self_discharge_per_s * b.capacity_c * max(y[at + S], 0.0)
    if b.kind == LEAD:
        isd *= exp(b.gassing_per_k * (y[at + TEMP] - m.lead_acid_reference_c))
    return isd


@compiled
def full_from_a(m, b, y, at):
    """The current from which a battery at its end is full."""
    return self_discharge_a(m, b, y, at) / b.charge_efficiency


@compiled
def battery_rates(m, b, tables, knots, y, at, i, full, mat_w, around_c, dy, lines):
    """Rates of the six states; `lines`: lost, refused, gassed, self-discharged A; heat, forgone, stored W."""
    s, v1, v2 = y[at + S], y[at + V1], y[at + V2]
    rested, x = rested_v(m, b, tables, knots, y, at)
    e, r = port(m, b, tables, knots, y, at)
    eta, cap = b.charge_efficiency, b.capacity_c
    isd = self_discharge_a(m, b, y, at)
    ig = lost = refused = 0.0
    if b.kind == LEAD:
        d = y[at + TEMP] - m.lead_acid_reference_c
        z = (e - b.onset_v - b.emf_v_per_k * d) / b.slope_v
        if z > 0:
            top = m.gassing_most_exponent
            bulge = exp(z) - 1 - z if z <= top else exp(top) - 1 - top + (exp(top) - 1) * (z - top)
            ig = b.scale_a * exp(b.gassing_per_k * d) * bulge
        main = i - ig - isd
        stored_a = eta * main if main >= 0 else main
        lost = main - stored_a
        slow = q(-v2, b.depletion_soft_v, 2.0) if v2 < 0 else 0.0
        local = s - b.depletion_per_v * slow
        p1 = relaxed(v1, d, s, b.f_charge_share, b.f_acceptance, b.f_charge_soft_v, b.f_charge_power,
                     b.f_discharge_soft_v, b.f_charge_per_k, b.f_discharge_per_k, b.f_half_soc, local)
        p2 = relaxed(v2, d, s, b.s_charge_share, b.s_acceptance, b.s_charge_soft_v, b.s_charge_power,
                     b.s_discharge_soft_v, b.s_charge_per_k, b.s_discharge_per_k, b.s_half_soc, local)
        dv1 = (main * b.f_discharge_ohm - p1) / b.f_time_s
        dv2 = (main * b.s_discharge_ohm - p2) / b.s_time_s
        branch_heat = 0.0
        if b.f_discharge_ohm > 0:
            branch_heat += v1 * p1 / b.f_discharge_ohm
        if b.s_discharge_ohm > 0:
            branch_heat += v2 * p2 / b.s_discharge_ohm
        heat_line = r * i * i + branch_heat
        forgone = e * (ig + isd) + rested * lost
        heat = heat_line + e * isd + (e - b.carried_v) * ig + rested * lost
    else:
        if full:
            stored_a = 0.0
            carried = isd / eta
            lost, refused = carried - isd, i - carried
        else:
            stored_a = (eta * i if i >= 0 else i) - isd
            lost = i - eta * i if i >= 0 else 0.0
        f = warmth(m, b, y, at) if b.kind == LITHIUM else 1.0
        dv1, dv2 = (i * b.branch_ohm1 - v1 / f) / b.branch_s1, (i * b.branch_ohm2 - v2 / f) / b.branch_s2
        heat_line = r * i * i
        if b.branch_ohm1 > 0:
            heat_line += v1 * v1 / (f * b.branch_ohm1)
        if b.branch_ohm2 > 0:
            heat_line += v2 * v2 / (f * b.branch_ohm2)
        heat = 0.0
        if b.kind == LITHIUM:
            h, u = y[at + HYST], y[at + TOP]
            sign = 1.0 if i > 0 else -1.0 if i < 0 else 0.0
            dy[at + HYST] = b.hysteresis_rate * abs(i) / cap * (sign - h)
            if b.has_top:
                follow = i / b.follow_c * (1 - u) if i >= 0 else i / b.follow_c * u
                dy[at + TOP] = follow - u / b.relax_s
            heat_line += b.hysteresis_v * h * h * abs(i) + u * x * i
            heat = heat_line + rested * isd + rested * lost
        forgone = rested * (lost + refused + isd)
    dy[at + S] = stored_a / cap
    dy[at + V1], dy[at + V2] = dv1, dv2
    dy[at + TEMP] = (heat + mat_w - b.w_per_k * (y[at + TEMP] - around_c)) / b.j_per_k
    lines[0], lines[1], lines[2], lines[3] = lost, refused, ig, isd
    lines[4], lines[5], lines[6] = heat_line, forgone, (e + r * i) * i - heat_line - forgone
