"""The discrete side: drive pieces, cranking, start and stop, stages, full batteries, and the loads of an empty house battery.

Order at one instant: timers that have run out (off, on, stages, end of ramp, end of crank), the next drive piece,
then the conditions are read anew; this repeats until nothing more happens.
"""
from math import inf
from typing import NamedTuple

from network import Demand, Regime

MOST_TRANSITIONS_AT_ONCE = 50
TIMERS = ["off", "on", "tail", "cap", "recharge", "ramp", "crank", "shed"]
# State of charge up to which shed house loads come back only where the charge that flows in carries them.
NEARLY_EMPTY = 0.01
# Current out of an empty house battery that still counts as rest, A.
REST_A = 1e-6


class LogicError(Exception):
    """More transitions fall due at one instant than can make sense."""


class Conditions(NamedTuple):
    """All that is watched inside a step; any change of it is an event."""
    regime: Regime
    gate: bool          # off: V_IN at or above turn-on; on: V_IN below turn-off
    tail: bool          # absorption, the voltage limit binds, and I_out is under the tail current
    low: bool           # float, and OUT is below the recharge voltage
    starter_held: str   # "" or full
    house_held: str
    shed: bool          # the house loads are to be off


class Logic:
    def __init__(self, scenario, network):
        self.scenario, self.network = scenario, network
        self.piece, self.running, self.cranking = -1, False, False
        self.on, self.stage, self.ramp_from_s = False, "", -inf
        self.held = {"starter": "", "house": ""}
        self.ends_at = dict.fromkeys(TIMERS, inf)
        self.weak_source = self.shed = False
        self.events = []

    def note(self, t, what):
        self.events.append((float(t), what))

    # ---- what the network is asked ----

    def demand(self):
        s, piece = self.scenario, self.scenario.pieces[self.piece]
        return Demand(
            alternator_on=self.running and not self.cranking, set_point_v=piece.set_point_v,
            alternator_limit_a=piece.alternator_limit_a,
            vehicle_a=piece.vehicle_a + (s.crank_a if self.cranking else 0.0),
            on=self.on, target_v=s.float_v if self.stage == "float" else s.absorption_v,
            house_load_w=0.0 if self.shed else piece.house_load_w, solar_w=piece.solar_w)

    def allowed_a(self, t):
        """Output limit times the soft-start ramp."""
        if self.ends_at["ramp"] == inf:
            return self.scenario.output_limit_a
        return self.scenario.output_limit_a * (t - self.ramp_from_s) / self.scenario.ramp_s

    def look(self, demand, state, allowed_a):
        """Everything at one instant: the conditions and the point they were read from."""
        s = self.scenario
        regime, point = self.network.find(demand, state, allowed_a)
        gate = point.in_v < s.turn_off_v if self.on else point.in_v >= s.turn_on_v
        binds = regime.output in ("voltage", "idle")
        tail = self.stage == "absorption" and binds and point.output_a < s.tail_a
        low = self.stage == "float" and point.out_v < s.recharge_v
        return Conditions(regime, gate, tail, low,
                          held_next(self.held["starter"], state[0], point.starter_a),
                          held_next(self.held["house"], state[3], point.house_a), self.wants_shed(state, point)), point

    def wants_shed(self, state, point):
        """Shed once an empty battery is asked; back after the hold, over the return volts, nearly empty only where the
        current that flows in carries the loads."""
        s = self.scenario
        if not self.shed:
            return state[3] <= 0 and point.house_a < -REST_A
        if self.ends_at["shed"] != inf:
            return True
        carried = state[3] > NEARLY_EMPTY or point.house_a > self.unserved_w() / point.hb_v - REST_A
        return not (carried and point.hb_v > s.loads_return_v)

    def unserved_w(self):
        return self.scenario.pieces[self.piece].house_load_w if self.shed else 0.0

    # ---- transitions ----

    def next_time(self):
        ahead = self.scenario.pieces[self.piece + 1].start_s if self.piece + 1 < len(self.scenario.pieces) else inf
        return min(ahead, self.scenario.pieces[-1].end_s, *self.ends_at.values())

    def settle(self, t, state):
        """Run the discrete side to rest at this instant; `state` may have a full or empty SOC put exactly on its end."""
        for _ in range(MOST_TRANSITIONS_AT_ONCE):
            if not (self.fire_timer(t) or self.enter_piece(t)):
                demand = self.demand()
                seen, point = self.look(demand, state, self.allowed_a(t))
                if not self.follow(t, seen, state):
                    return demand, seen, point
        raise LogicError(f"at {t} s more than {MOST_TRANSITIONS_AT_ONCE} transitions fall due: the thresholds chatter")

    def fire_timer(self, t):
        for name in TIMERS:
            if self.ends_at[name] <= t:
                self.ends_at[name] = inf
                getattr(self, "end_" + name)(t)
                return True
        return False

    def forget(self, *names):
        for name in names:
            self.ends_at[name] = inf

    def end_off(self, t):
        self.on, self.stage = False, ""
        self.forget("tail", "cap", "recharge", "ramp")
        self.note(t, "unit_off")

    def end_on(self, t):
        self.on, self.stage = True, "bulk"
        if self.scenario.ramp_s > 0:
            self.ramp_from_s, self.ends_at["ramp"] = t, t + self.scenario.ramp_s
        self.note(t, "unit_on")

    def end_tail(self, t):
        self.stage = "float"
        self.forget("tail", "cap")
        self.note(t, "float")

    end_cap = end_tail

    def end_recharge(self, t):
        self.stage = "bulk"
        self.note(t, "bulk")

    def end_ramp(self, t):
        pass

    def end_shed(self, t):
        pass

    def end_crank(self, t):
        self.cranking = False
        self.note(t, "crank_end")

    def enter_piece(self, t):
        following = self.piece + 1
        if following == len(self.scenario.pieces) or self.scenario.pieces[following].start_s > t:
            return False
        self.piece, was_running = following, self.running
        self.running = self.scenario.pieces[following].running
        if self.running and not was_running:
            self.note(t, "key_on")
            if self.scenario.crank_s > 0:
                self.cranking, self.ends_at["crank"] = True, t + self.scenario.crank_s
                self.note(t, "crank_start")
        elif was_running and not self.running:
            self.note(t, "key_off")
            if self.cranking:
                self.forget("crank")
                self.end_crank(t)
        return True

    def follow(self, t, seen, state):
        """Start and stop timers as the conditions say; true if something else changed at once."""
        s = self.scenario
        self.hold("off" if self.on else "on", seen.gate, t,
                  s.turn_off_delay_s if self.on else s.turn_on_delay_s)
        self.forget("on" if self.on else "off")
        self.hold("tail", seen.tail, t, s.tail_hold_s)
        self.hold("recharge", seen.low, t, s.recharge_hold_s)
        weak = seen.regime.feed in ("source", "corner")
        if weak != self.weak_source:
            self.weak_source = weak
            self.note(t, "source_limit" if weak else "source_limit_end")
        if state[0] <= 0:
            raise LogicError(f"at {t} s the starter battery is empty: its collapse is not in this program")
        if seen.shed != self.shed:
            self.shed = seen.shed
            if self.shed:
                if s.loads_return_v is None or s.loads_hold_s is None:
                    raise LogicError("missing keys: house.loads_return_v, house.loads_hold_s")
                state[3] = 0.0
                self.ends_at["shed"] = t + s.loads_hold_s
            self.note(t, "shed" if self.shed else "loads_back")
            return True
        for name, index, now in (("starter", 0, seen.starter_held), ("house", 3, seen.house_held)):
            was = self.held[name]
            if now != was:
                self.held[name] = now
                self.note(t, f"{name}_{now}" if now else f"{name}_{was}_end")
                if now:
                    state[index] = 1.0
                return True
        if self.stage == "bulk" and seen.regime.output in ("voltage", "idle"):
            self.stage = "absorption"
            self.ends_at["cap"] = t + s.absorption_cap_s
            self.note(t, "absorption")
            return True
        return any(self.ends_at[name] <= t for name in TIMERS)

    def hold(self, name, condition, t, delay_s):
        if not condition:
            self.ends_at[name] = inf
        elif self.ends_at[name] == inf:
            self.ends_at[name] = t + delay_s


def held_next(held, soc, current_a):
    """A battery at SOC 1 holds while current flows in, and is let go when the current turns."""
    if held == "full" or (not held and soc >= 1):
        return "full" if current_a > 0 or (held and current_a == 0) else ""
    return ""
