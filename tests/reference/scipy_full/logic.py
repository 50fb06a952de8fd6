"""The discrete side: pieces, timers, rules and the order in which they act (sections 9 to 13, 15). Time is in whole
nanoseconds; what is watched comes as bits from `flow.look`."""
import numpy as np

import flow
import network
from params import ALT_A, CASE, FILTER_V, GIVEN, HB, REGULATOR, S, SB, SET_V, STATES, TEMP, Model
from steps import advance

NEVER = None
MOST_ROUNDS = 64
TIMERS = ("turn_off", "turn_on", "ramp", "least_off", "tail", "cap", "recharge", "over", "sleep", "crank", "build_up",
          "hold", "start_up")
SETTLED = ("least_off", "hold", "start_up")         # their ends change nothing by themselves


class Chatter(Exception):
    pass


def ns(seconds):
    return round(seconds * 1e9)


class Run:
    def __init__(self, told, tolerance=1e-11, most_step_s=30.0):
        self.model = model = Model(told)
        self.m = model.numbers[0]
        self.given = np.zeros(1, GIVEN)
        self.g = self.given[0]
        self.room = np.zeros((5, 64))
        self.p = self.room[3]
        self.y = model.start()
        self.counts = np.zeros(2, np.int64)
        self.most_step_s = most_step_s
        # Volts, SOC and shares to the tolerance; amperes, kelvins a hundred times it.
        self.scale = np.full(STATES, tolerance)
        for k in (SB + TEMP, HB + TEMP, *range(CASE, ALT_A + 1), REGULATOR):
            self.scale[k] = 100 * tolerance
        self.pieces = model.pieces
        self.starts = [ns(p["start_s"]) for p in self.pieces]
        self.end = ns(self.pieces[-1]["end_s"])
        self.vehicle, self.loads = told["model"]["vehicle"], told["model"]["house_loads"]
        self.protection, self.rule = told["model"]["protection"], told["model"]["alternator"]["rule"]
        self.build_up_s = told["model"]["alternator"]["build_up_s"]
        self.start_stop, self.stages = model.link["start_stop"], model.link["stages"]
        self.converter, self.constants = model.link["converter"], told["constants"]
        signal = self.start_stop["signal"]
        (self.signal, self.pair), = signal.items() if isinstance(signal, dict) else [(signal, None)]

        self.t = 0
        self.due = dict.fromkeys(TIMERS, NEVER)
        self.held = dict.fromkeys(TIMERS, False)
        self.events = []
        self.piece = -1
        self.running = self.cranking = self.awake = self.on = self.live = self.locked = self.dead = False
        self.shed = self.mat = False
        self.refused = ""
        self.stage = self.left_stage = "bulk"
        self.spent = 0
        self.low = False
        self.open_fuses = [False] * 4
        self.limit, self.alternator_full = "off", False
        self.full = [False, False]

    # ---- to the compiled side and back ----

    def now(self):
        return self.pieces[max(self.piece, 0)]

    def hand_over(self):
        """All that the network and the conditions hang on, as it is now."""
        g, piece, m = self.g, self.now(), self.m
        for name in ("engine_rpm", "set_point_v", "vehicle_load_a", "house_load_w", "house_solar_w", "air_c", "bay_c",
                     "starter_solar_a", "mains_a"):
            g[name] = piece[name]
        g["as_read"], g["extra_ohm"] = piece["set_point_as_read"], piece["input_joint_extra_ohm"]
        g["input_open"] = piece["input_open"] or self.open_fuses[0] or self.open_fuses[1]
        g["output_open"] = self.open_fuses[2] or self.open_fuses[3]
        g["running"], g["cranking"] = self.running, self.cranking
        g["charging"] = self.running and not self.cranking and self.due["build_up"] is NEVER
        g["awake"], g["on"], g["floating"] = self.awake, self.on, self.stage == "float"
        g["ramping"] = self.on and self.due["ramp"] is not NEVER
        if g["ramping"]:
            g["ramp_s"] = self.converter["ramp_s"]
            g["ramp_from_s"] = (self.due["ramp"] - ns(self.converter["ramp_s"]) - self.t) * 1e-9
        g["locked"], g["dead"], g["refused"] = self.locked, self.dead, bool(self.refused)
        g["shed"], g["mat"], g["idle"] = self.shed, self.mat, self.limit == "idle"
        g["full0"], g["full1"] = self.full
        pair = self.pair if self.pair and self.live else self.start_stop
        g["turn_on_v"], g["turn_off_v"] = pair["turn_on_v"], pair["turn_off_v"]
        g["over_cold"], g["over_high"] = self.refused == "cold", self.refused == "high"
        if self.rule:
            g["low_soc"] = self.low_until()
            g["low_soc_matters"] = 1
        g["mask"] = self.mask()

    def mask(self):
        bit = lambda *numbers: sum(1 << n for n in numbers)
        mask = bit(flow.OUT0_BIT, flow.OUT1_BIT, flow.ALT_BIT, flow.FULL0_BIT, flow.FULL1_BIT, *range(flow.FUSE_BIT, flow.FUSE_BIT + 4))
        if self.on:
            mask |= 15 | bit(flow.OFF_BIT)
            mask |= {"bulk": bit(flow.TARGET_BIT), "absorption": bit(flow.TAIL_BIT),
                     "float": bit(flow.RECHARGE_BIT)}[self.stage]
        else:
            mask |= bit(flow.ON_BIT)
        mask |= bit(flow.FREE_BIT if self.locked else flow.LOCK_BIT)
        if not self.refused:
            mask |= bit(flow.COLD_BIT, flow.HIGH_BIT, flow.OVER_BIT)
        else:
            mask |= bit(flow.RELEASED_BIT, flow.FED_BIT)
        mask |= bit(flow.BACK_BIT if self.shed else flow.SHED_BIT)
        if self.mat and self.shed:
            mask |= bit(flow.MAT_HOLD_BIT)
        mask |= bit(flow.RETURN_BIT if self.dead else flow.DEAD_BIT)
        if self.rule:
            mask |= bit(flow.LOW_SOC_BIT, flow.ARRIVED_BIT)
        return mask

    def look(self):
        model = self.model
        self.hand_over()
        self.bits = flow.look(0.0, self.y, self.m, self.g, model.batteries, model.tables, model.knots, model.wires,
                              model.fuse_numbers, self.room)

    def seen(self, bit):
        return bool(self.bits >> bit & 1)

    def note(self, what, before="", after=""):
        self.events.append((self.t, what, before, after))

    def solve(self, first=False):
        """The network anew; says what moved in it."""
        self.look()
        limit = network.LIMITS[int(self.p[network.LIMIT])] if self.on else "off"
        if limit != self.limit:
            if self.on:
                self.note("limit", self.limit, limit)
            self.limit = limit
        full = self.seen(flow.ALT_BIT)
        if full != self.alternator_full:
            self.alternator_full = full
            names = ("not_full", "full")
            self.note("alternator_full", names[not full], names[full])
        for k, side in enumerate(("starter", "house")):
            at_end = self.seen(flow.FULL0_BIT + k)
            if at_end != self.full[k]:
                self.full[k] = at_end
                if not first:
                    self.note("bound", side, "full" if at_end else "within")
        self.hand_over()

    # ---- the loop ----

    def run(self):
        self.look()                         # first piece, unit off, engine not yet started
        self.y[FILTER_V] = self.p[network.V_IN] + self.m["compensation_ohm"] * self.p[network.I_IN]
        self.solve(first=True)
        while True:
            self.settle()
            if self.t >= self.end:
                return self
            until = min([d for d in self.due.values() if d is not NEVER] + [self.end] +
                        self.starts[self.piece + 1:self.piece + 2])
            model = self.model
            gone, _, _ = advance(
                self.y, until - self.t, 1e-3, self.most_step_s, self.m, self.g, model.batteries,
                model.tables, model.knots, model.wires, model.fuse_points, model.fuse_numbers, self.room, self.scale,
                self.counts)
            self.t += int(gone)
            self.solve()

    def settle(self):
        for _ in range(MOST_ROUNDS):
            if self.fire() or self.next_piece() or self.read():
                self.solve()
            elif not any(d is not NEVER and d <= self.t for d in self.due.values()):
                self.hand_over()
                return
        raise Chatter(f"more than {MOST_ROUNDS} rounds at {self.t * 1e-9} s")

    def fire(self):
        for name in TIMERS:
            if self.due[name] is not NEVER and self.due[name] <= self.t:
                self.due[name] = NEVER
                if name not in SETTLED:
                    getattr(self, "end_" + name)()
                    return True
        return False

    def next_piece(self):
        n = self.piece + 1
        if n >= len(self.pieces) or self.starts[n] > self.t or self.t >= self.end:
            return False
        after_short_stop = self.piece >= 0 and self.now()["stop_start"]
        self.piece = n
        runs = self.now()["engine_rpm"] > 0
        if runs and not self.running:
            self.running, self.awake = True, False
            self.stop("sleep")
            self.y[ALT_A] = 0.0
            if self.vehicle["crank_s"] > 0:
                self.cranking = True
                self.due["crank"] = self.t + ns(self.vehicle["crank_s"])
            if self.build_up_s > 0:
                self.due["build_up"] = self.t + ns(self.vehicle["crank_s"] + self.build_up_s)
            if self.rule and self.rule["start_up_s"] > 0 and not after_short_stop:
                self.due["start_up"] = self.t + ns(self.vehicle["crank_s"] + self.rule["start_up_s"])
            self.note("key_on", "parked", "cranking")
        elif self.running and not runs:
            self.note("key_off", "running", "parked")
            self.running = self.cranking = False
            self.stop("crank", "build_up", "start_up")
            self.y[ALT_A] = 0.0
            if self.vehicle["awake_a"] > 0 and not self.now()["stop_start"]:
                self.awake = True
                self.due["sleep"] = self.t + ns(self.vehicle["sleep_after_s"])
        return True

    # ---- timers ----

    def stop(self, *names):
        for name in names:
            self.due[name], self.held[name] = NEVER, False

    def hold(self, name, condition, delay_s):
        """A timer starts where its condition becomes true and stops where it is not."""
        if condition and not self.held[name]:
            self.due[name] = self.t + ns(delay_s)
        elif not condition:
            self.due[name] = NEVER
        self.held[name] = condition

    def end_turn_off(self):
        self.drop_out()

    def end_turn_on(self):
        self.on = True
        self.stop("turn_on", "turn_off")
        self.stage = self.left_stage if self.stages["resume"] else "bulk"
        if self.stage == "absorption":
            self.start_cap()
        if self.converter["ramp_s"] > 0:
            self.due["ramp"] = self.t + ns(self.converter["ramp_s"])
        self.note("unit_on", "off", "on")

    def drop_out(self):
        if self.stage == "absorption":
            self.spent = ns(self.stages["absorption_cap_s"]) - max(0, (self.due["cap"] or self.t) - self.t)
        self.left_stage = self.stage
        self.on, self.stage = False, "bulk"
        self.stop("turn_off", "turn_on", "ramp", "tail", "cap", "recharge")
        if self.start_stop["least_off_s"] > 0:
            self.due["least_off"] = self.t + ns(self.start_stop["least_off_s"])
        self.note("unit_off", "on", "off")

    def end_ramp(self):
        self.note("ramp_end")

    def start_cap(self):
        whole = ns(self.stages["absorption_cap_s"])
        self.due["cap"] = self.t + (max(0, whole - self.spent) if self.stages["cap_cumulative"] else whole)

    def enter(self, stage):
        self.note("stage", self.stage, stage)
        self.stage = stage
        self.stop("tail", "cap", "recharge")
        if stage == "absorption":
            self.start_cap()
        else:
            self.spent = 0

    def end_tail(self):
        self.enter("float")

    end_cap = end_tail

    def end_recharge(self):
        self.enter("bulk")

    def end_over(self):
        self.refused = ""
        self.note("charge_refused")

    def end_sleep(self):
        self.awake = False
        self.note("falls_asleep")

    def end_crank(self):
        self.cranking = False
        self.note("engine_runs", "cranking", "running")

    def end_build_up(self):
        self.note("alternator_begins", "building_up", "charging")

    # ---- conditions ----

    def read(self):
        """One reading; true where something changed at once."""
        self.solve()
        self.read_set_point()
        return (self.read_collapse() or self.read_fuses() or self.read_signal() or self.read_heat() or self.read_unit() or
                self.read_protection() or self.read_loads() or self.read_starter())

    def low_until(self):
        return self.rule["low_soc"] + (self.constants["low_band_soc"] if self.low else 0.0)

    def read_set_point(self):
        if not self.rule:
            return
        rule, piece, w = self.rule, self.now(), self.y[SET_V]
        target = rule["start_up_v" if self.due["start_up"] is not NEVER else piece["phase"] + "_v"]
        self.low = self.y[SB + S] < self.low_until()
        if self.low or piece["air_c"] < rule["cold_c"] or piece["vehicle_load_a"] > rule["heavy_a"]:
            target = max(target, rule["refresh_v"])
        g = self.g
        if g["set_direction"] != 0 and target == g["set_target_v"] and (w - target) * g["set_direction"] >= 0:
            self.y[SET_V] = w = target
        g["set_target_v"], g["set_direction"] = target, int(target > w) - int(target < w)

    def read_collapse(self):
        if self.shed or not self.p[network.NEAR_MOST] > 0:
            return False
        self.shed_loads()
        return True

    def shed_loads(self):
        self.shed = True
        self.due["hold"] = self.t + ns(self.loads["hold_s"])
        self.note("loads_shed", "served", "shed")

    def read_fuses(self):
        for k in range(4):
            if self.seen(flow.FUSE_BIT + k) and not self.open_fuses[k]:
                self.open_fuses[k] = True
                self.note("fuse_opened")
                return True
        return False

    def read_signal(self):
        live = self.now()["run_signal"]
        if live != self.live:
            self.live = live
            if self.signal != "ignored":
                self.stop("turn_on", "turn_off")
                self.look()
        if self.signal == "required" and self.on and not self.live:
            self.drop_out()
            return True
        return False

    def read_heat(self):
        if not self.locked and self.seen(flow.LOCK_BIT):
            if self.on:
                self.drop_out()
            else:
                self.locked = True
                self.note("heat_lock")
            return True
        if self.locked and self.seen(flow.FREE_BIT):
            self.locked = False
            self.note("heat_lock")
            return True
        return False

    def read_unit(self):
        high, low = self.seen(flow.ON_BIT), self.seen(flow.OFF_BIT)
        ready = not (self.on or self.locked or self.dead or self.due["least_off"] is not NEVER)
        if self.signal == "required":
            high = high and self.live
        elif self.signal == "either":
            calls = self.live and not self.g["input_open"]      # without supply the signal starts nothing
            high, low = high or calls, low and not calls
        s = self.start_stop
        self.hold("turn_on", ready and high, s["turn_on_delay_s"])
        self.hold("turn_off", self.on and low, s["turn_off_delay_s"])
        if self.stages["fixed_supply"]:
            return False
        self.hold("tail", self.on and self.stage == "absorption" and self.seen(flow.TAIL_BIT), self.stages["tail_hold_s"])
        self.hold("recharge", self.on and self.stage == "float" and self.seen(flow.RECHARGE_BIT),
                  self.stages["recharge_hold_s"])
        if self.on and self.stage == "bulk" and self.seen(flow.TARGET_BIT):
            self.enter("absorption")
            return True
        return False

    def read_protection(self):
        if self.refused:
            if self.refused in ("cold", "high") and self.seen(flow.RELEASED_BIT):
                self.refused = ""
                self.note("charge_refused")
                return True
            return False
        for name, bit in (("cold", flow.COLD_BIT), ("high", flow.HIGH_BIT), ("over", flow.OVER_BIT)):
            if self.seen(bit):
                self.refused = name
                if name == "high" and self.p[network.E_HB] < self.m["high_release_v"]:
                    self.refused = "over"           # the current alone brought the volts: released by time
                if self.refused == "over":
                    self.due["over"] = self.t + ns(self.protection["over_release_s"])
                self.note("charge_refused")
                return True
        return False

    def read_loads(self):
        holds = self.shed and self.due["hold"] is not NEVER
        mat = self.refused == "cold" and self.protection["heater_w"] > 0 and self.seen(flow.FED_BIT) and not holds
        if self.mat and self.shed and not holds and self.seen(flow.MAT_HOLD_BIT):
            self.due["hold"] = self.t + ns(self.loads["hold_s"])
            mat = False
        if mat != self.mat:
            self.mat = mat
            self.note("heater_mat")
            return True
        if not self.shed and self.seen(flow.SHED_BIT):
            self.shed_loads()
            return True
        if self.shed and not holds and self.seen(flow.BACK_BIT):
            self.shed = False
            self.note("loads_shed", "shed", "served")
            return True
        return False

    def read_starter(self):
        c = self.constants
        if not self.dead and self.seen(flow.DEAD_BIT):
            if self.on:
                self.drop_out()
                self.look()
                self.due["least_off"] = max(self.due["least_off"] or 0, self.t + ns(c["spent_off_s"]))
            else:
                self.dead = True
                self.note("starter_dead")
            return True
        if self.dead and self.seen(flow.RETURN_BIT):
            self.dead = False
            self.note("starter_dead")
            return True
        return False
