"""Volts and amps at one instant.

`find` looks at every regime and returns the one that holds; `at` solves inside a given regime, without
looking whether it still holds, so that what an integration step sees is smooth.
"""
from math import inf, sqrt
from typing import NamedTuple


class NetworkError(Exception):
    """No operating point exists for the house load."""


class Regime(NamedTuple):
    alternator: str       # off, zero, regulating, limited
    output: str           # off, current, voltage, idle (held back by its voltage limit), power, starved
    feed: str             # root, input (its limit), source (greatest power), corner (the same, where the line bends)
    solar: str            # none, zero, power, regulated
    starter_charging: bool
    house_charging: bool
    starter_interval: int
    house_interval: int


class Point(NamedTuple):
    sb_v: float
    alternator_a: float
    vehicle_a: float
    starter_a: float
    input_a: float
    in_v: float
    in_w: float
    output_a: float
    out_v: float
    out_w: float
    hb_v: float
    house_a: float
    solar_a: float
    load_a: float
    starter_e_v: float
    house_e_v: float


class Demand(NamedTuple):
    """What the discrete side asks of the network."""
    alternator_on: bool
    set_point_v: float
    alternator_limit_a: float
    vehicle_a: float
    on: bool
    target_v: float
    house_load_w: float
    solar_w: float


class Network:
    def __init__(self, scenario, starter, house):
        self.scenario, self.starter, self.house = scenario, starter, house

    # ---- starter bus: V_SB = a - b I_in, one line for each alternator regime ----

    def line(self, regime, demand, e_v):
        r0, droop = self.starter.r0_ohm, self.scenario.alternator.droop_ohm
        if regime == "regulating":
            g = 1 / droop + 1 / r0
            return (demand.set_point_v / droop + e_v / r0 - demand.vehicle_a) / g, 1 / g
        if regime == "limited":
            return e_v + r0 * (demand.alternator_limit_a - demand.vehicle_a), r0
        return e_v - r0 * demand.vehicle_a, r0

    def lines(self, demand, e_v):
        """(regime, a, b, lowest I_in, highest I_in), in the order of rising input current."""
        if not demand.alternator_on:
            return [("off", *self.line("off", demand, e_v), -inf, inf)]
        first = (e_v - demand.set_point_v) / self.starter.r0_ohm - demand.vehicle_a
        second = max(first, self.corner_a(demand, e_v))
        return [("zero", *self.line("zero", demand, e_v), -inf, first),
                ("regulating", *self.line("regulating", demand, e_v), first, second),
                ("limited", *self.line("limited", demand, e_v), second, inf)]

    def corner_a(self, demand, e_v):
        """Input current at which the alternator has just reached its greatest current."""
        corner_v = demand.set_point_v - self.scenario.alternator.droop_ohm * demand.alternator_limit_a
        return demand.alternator_limit_a - demand.vehicle_a - (corner_v - e_v) / self.starter.r0_ohm

    def draw(self, demand, e_v, power_w):
        """Smallest input current that carries this power within the input limit, else the greatest power there is."""
        run, limit = self.scenario.input_cable_ohm, self.scenario.input_limit_a
        best = (-inf, 0.0, "", "")
        for regime, a, b, low, high in self.lines(demand, e_v):
            low, high = max(low, 0.0), min(high, limit)
            if low > high:
                continue
            peak = a / (2 * (b + run))
            end = min(high, max(peak, low))
            most_w = (a - (b + run) * end) * end
            if most_w >= power_w:
                return regime, "root"
            if most_w > best[0]:
                feed = "input" if end == limit else "source" if end == peak else "corner"
                best = (most_w, end, regime, feed)
        return best[2], best[3]

    # ---- house bus: V_HB = a + b (I_out - P/V_HB) ----

    def house_line(self, solar, demand, e_v):
        r0 = self.house.r0_ohm
        if solar == "power":
            return e_v, r0, demand.house_load_w - demand.solar_w
        if solar == "regulated":
            k = 1 + r0 / self.scenario.solar_ohm
            return (e_v + r0 * self.scenario.solar_set_point_v / self.scenario.solar_ohm) / k, r0 / k, demand.house_load_w
        return e_v, r0, demand.house_load_w

    def house_state(self, output, given, demand, e_v, solar):
        """V_HB and I_out, when `given` is the output current, the voltage at OUT, or the output power."""
        a, b, power = self.house_line(solar, demand, e_v)
        run = self.scenario.output_cable_ohm
        if output == "current":
            return upper_root(a + b * given, b * power), given
        if output == "voltage":
            if run == 0:
                return given, (given - a) / b + power / given
            k = 1 + b / run
            v = upper_root((a + b * given / run) / k, b * power / k)
            return v, (given - v) / run
        # Newton from above on a convex rising function: it converges from one side.
        i = given / upper_root(a, b * power)
        for _ in range(60):
            c = a + b * i
            v = upper_root(c, b * power)
            slope = v + 2 * run * i + i * b * v / (2 * v - c)
            step = (i * (v + run * i) - given) / slope
            i -= step
            if abs(step) <= 1e-15 * (1 + abs(i)):
                break
        return upper_root(a + b * i, b * power), i

    def solar_regime(self, output, given, demand, e_v):
        """I_solar = max(0, min(P/V, (set-point - V)/R)): the two outer regimes are tried, the middle is what is left."""
        if demand.solar_w <= 0:
            return "none"
        set_v, ohm = self.scenario.solar_set_point_v, self.scenario.solar_ohm
        if self.house_state(output, given, demand, e_v, "zero")[0] >= set_v:
            return "zero"
        v = self.house_state(output, given, demand, e_v, "power")[0]
        return "power" if demand.solar_w / v <= (set_v - v) / ohm else "regulated"

    # ---- the unit ----

    def output_power(self, in_w):
        """P_in = P_out + p0 + p1 P_out + p2 P_out^2, turned round."""
        s = self.scenario
        spare, k = in_w - s.fixed_loss_w, 1 + s.proportional_loss
        return 2 * spare / (k + sqrt(max(0.0, k * k + 4 * s.square_loss_per_w * spare)))

    def feed_current(self, alternator, feed, demand, e_v, power_w):
        a, b = self.line(alternator, demand, e_v)
        r = b + self.scenario.input_cable_ohm
        if feed == "root":
            return 2 * power_w / (a + sqrt(max(0.0, a * a - 4 * r * power_w)))
        if feed == "input":
            return self.scenario.input_limit_a
        return a / (2 * r) if feed == "source" else self.corner_a(demand, e_v)

    def loss(self, out_w):
        s = self.scenario
        return s.fixed_loss_w + out_w * (s.proportional_loss + s.square_loss_per_w * out_w)

    def find(self, demand, state, allowed_a):
        """The regime that holds, and the point in it. `allowed_a` is the output limit times the ramp."""
        starter_k, house_k = self.starter.interval(state[0]), self.house.interval(state[3])
        e_s = self.starter.open_v(state[0], starter_k) + state[1] + state[2]
        e_h = self.house.open_v(state[3], house_k) + state[4] + state[5]
        if not demand.on:
            feed, output, standby = "root", "off", self.scenario.standby_a
            alternator = next(x[0] for x in self.lines(demand, e_s) if standby <= x[4])
            solar = self.solar_regime("current", 0.0, demand, e_h)
        else:
            output, solar, i, v = self.wish(demand, e_h, allowed_a)
            out_w = i * (v + self.scenario.output_cable_ohm * i)
            alternator, feed = self.draw(demand, e_s, out_w + self.loss(out_w))
            if feed != "root":
                i_in = self.feed_current(alternator, feed, demand, e_s, 0.0)
                a, b = self.line(alternator, demand, e_s)
                out_w = self.output_power((a - (b + self.scenario.input_cable_ohm) * i_in) * i_in)
                output = "power" if out_w > 0 else "starved"
                solar = (self.solar_regime("power", out_w, demand, e_h) if out_w > 0
                         else self.solar_regime("current", 0.0, demand, e_h))
        regime = Regime(alternator, output, feed, solar, True, True, starter_k, house_k)
        point = self.at(regime, demand, state, allowed_a)
        return regime._replace(starter_charging=point.starter_a > 0, house_charging=point.house_a > 0), point

    def wish(self, demand, e_h, allowed_a):
        """What the unit would deliver if its source were strong enough."""
        run = self.scenario.output_cable_ohm
        solar = self.solar_regime("current", allowed_a, demand, e_h)
        v, i = self.house_state("current", allowed_a, demand, e_h, solar)
        if v + run * i <= demand.target_v:
            return "current", solar, i, v
        solar = self.solar_regime("current", 0.0, demand, e_h)
        v, i = self.house_state("current", 0.0, demand, e_h, solar)
        if v >= demand.target_v:
            return "idle", solar, 0.0, v
        solar = self.solar_regime("voltage", demand.target_v, demand, e_h)
        v, i = self.house_state("voltage", demand.target_v, demand, e_h, solar)
        return "voltage", solar, i, v

    def at(self, regime, demand, state, allowed_a):
        """The point inside a regime that is taken as given."""
        alternator, output, feed, solar, _, _, starter_k, house_k = regime
        s = self.scenario
        e_open_s = self.starter.open_v(state[0], starter_k)
        e_open_h = self.house.open_v(state[3], house_k)
        e_s, e_h = e_open_s + state[1] + state[2], e_open_h + state[4] + state[5]
        a, b = self.line(alternator, demand, e_s)
        if feed != "root":
            i_in = self.feed_current(alternator, feed, demand, e_s, 0.0)
            in_w = (a - (b + s.input_cable_ohm) * i_in) * i_in
        if output == "power":
            out_w = self.output_power(in_w)
            hb_v, i_out = self.house_state("power", out_w, demand, e_h, solar)
        elif output == "voltage":
            hb_v, i_out = self.house_state("voltage", demand.target_v, demand, e_h, solar)
        else:
            i_out = allowed_a if output == "current" else 0.0
            hb_v, _ = self.house_state("current", i_out, demand, e_h, solar)
        out_v = hb_v + s.output_cable_ohm * i_out
        out_w = out_v * i_out
        if output == "off":
            i_in = s.standby_a
        elif feed == "root":
            i_in = self.feed_current(alternator, feed, demand, e_s, out_w + self.loss(out_w))
        sb_v = a - b * i_in
        starter_a = (sb_v - e_s) / self.starter.r0_ohm
        if alternator == "limited":
            alternator_a = demand.alternator_limit_a
        elif alternator == "regulating":
            alternator_a = starter_a + demand.vehicle_a + i_in
        else:
            alternator_a = 0.0
        if alternator != "regulating":
            starter_a = alternator_a - demand.vehicle_a - i_in
        in_v = sb_v - s.input_cable_ohm * i_in
        load_a = demand.house_load_w / hb_v
        if solar == "power":
            solar_a = demand.solar_w / hb_v
        elif solar == "regulated":
            solar_a = (s.solar_set_point_v - hb_v) / s.solar_ohm
        else:
            solar_a = 0.0
        return Point(sb_v, alternator_a, demand.vehicle_a, starter_a, i_in, in_v, in_v * i_in, i_out, out_v, out_w,
                     hb_v, i_out + solar_a - load_a, solar_a, load_a, e_open_s, e_open_h)


def upper_root(c, bp):
    """The high-voltage root of V^2 - c V + b P = 0, the only one a constant-power load holds."""
    inside = c * c - 4 * bp
    if inside < 0:
        raise NetworkError("the house bus cannot carry the house load")
    return (c + sqrt(inside)) / 2
