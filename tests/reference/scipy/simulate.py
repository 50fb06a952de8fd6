"""One loop: integrate inside a regime, look for the first change of any condition, land just behind it, settle."""
import numpy as np
from scipy.integrate import DOP853, LSODA, RK45, Radau
from scipy.optimize import minimize_scalar

from battery import Battery
from flow import SIZE, STATES, rates
from logic import Logic
from network import Network

METHODS = {"DOP853": DOP853, "Radau": Radau, "LSODA": LSODA, "RK45": RK45}
LOOKS_PER_STEP = 4
LEDGER_ATOL = 1e-8          # coulombs and joules


class Extreme:
    """Largest (sign 1) or smallest (sign -1) value seen, with its time."""

    def __init__(self, sign):
        self.sign, self.value, self.t = sign, None, None

    def take(self, value, t):
        if self.value is None or self.sign * (value - self.value) > 0:
            self.value, self.t = value, t


class Simulation:
    def __init__(self, scenario, rtol=1e-10, method="DOP853", max_step_s=60.0):
        self.scenario, self.rtol, self.method, self.max_step_s = scenario, rtol, METHODS[method], max_step_s
        self.starter, self.house = Battery(scenario.starter), Battery(scenario.house)
        self.logic = Logic(scenario, Network(scenario, self.starter, self.house))
        self.state = np.zeros(SIZE)
        self.state[0], self.state[3] = scenario.starter.start, scenario.house.start
        self.atol = np.array([1e-12] * len(STATES) + [LEDGER_ATOL] * (SIZE - len(STATES)))
        self.end_s = scenario.pieces[-1].end_s
        self.input_peak = Extreme(1)
        self.margin = Extreme(-1)
        self.driving_margin = Extreme(-1)
        self.segments = self.steps = 0

    def run(self):
        t, logic = 0.0, self.logic
        while True:
            slow = self.state[:6].tolist()
            demand, seen, point = logic.settle(t, slow)
            self.state[:6] = slow
            if t >= self.end_s:
                return self
            t = self.segment(t, min(logic.next_time(), self.end_s), demand, seen, point)

    def segment(self, start_s, bound_s, demand, seen, point):
        """Integrate from `start_s` until a condition changes or `bound_s`; returns the time reached."""
        logic, scenario, network = self.logic, self.scenario, self.logic.network
        held_s, held_h, regime = logic.held["starter"], logic.held["house"], seen.regime
        starter, house = self.starter, self.house

        def slope(x, state):
            state = state[:6].tolist()
            inside = network.at(regime, demand, state, logic.allowed_a(start_s + x))
            return np.array(rates(scenario, starter, house, state, inside, regime, held_s, held_h,
                                  logic.unserved_w()))

        def look(x):
            return logic.look(demand, dense(x)[:6].tolist(), logic.allowed_a(start_s + x))

        length = bound_s - start_s
        self.segments += 1
        solver = self.method(slope, 0.0, self.state, length, rtol=self.rtol, atol=self.atol, max_step=self.max_step_s)
        self.record(start_s, point)
        while solver.status == "running":
            fault = solver.step()
            if solver.status == "failed":
                raise RuntimeError(f"the integrator failed at {start_s + solver.t} s: {fault}")
            self.steps += 1
            dense = solver.dense_output()
            looks = [(solver.t_old, seen, point)]
            looks += [(x, *look(x)) for x in np.linspace(solver.t_old, solver.t, LOOKS_PER_STEP + 2)[1:-1].tolist()]
            end_state = solver.y[:6].tolist()
            looks.append((solver.t, *logic.look(demand, end_state, logic.allowed_a(start_s + solver.t))))
            looks = self.with_turning_points(looks, look)
            for (x0, *_), (x1, then, there) in zip(looks, looks[1:]):
                if then != seen:
                    x = first_change(x0, x1, lambda z: look(z)[0] != seen)
                    self.record(start_s + x, look(x)[1])
                    self.state = dense(x)
                    return start_s + x
                self.record(start_s + x1, there)
            point = looks[-1][2]
        self.state = solver.y
        return bound_s

    def watched(self, point):
        """Signed distances to the thresholds that can be crossed twice inside a step, and the input current."""
        s, logic = self.scenario, self.logic
        gate = point.in_v - (s.turn_off_v if logic.on else s.turn_on_v)
        return gate, point.out_v - s.recharge_v, point.output_a - s.tail_a, point.input_a

    def with_turning_points(self, looks, look):
        """Add the turning points of what is watched, so that no short visit across a threshold is missed."""
        values = [self.watched(p) for _, _, p in looks]
        added = []
        for k in range(1, len(looks) - 1):
            for n in range(4):
                left, mid, right = values[k - 1][n], values[k][n], values[k + 1][n]
                if (mid - left) * (right - mid) >= 0 or abs(2 * mid - left - right) < 1e-10 * (1 + abs(mid)):
                    continue
                sign = 1.0 if mid < left else -1.0
                low, high = looks[k - 1][0], looks[k + 1][0]
                found = minimize_scalar(lambda x: sign * self.watched(look(x)[1])[n], bounds=(low, high),
                                        method="bounded", options={"xatol": 1e-9 * (1 + high)})
                x = float(found.x)
                if low < x < high:
                    added.append((x, *look(x)))
        return sorted(looks + added, key=lambda item: item[0]) if added else looks

    def record(self, t, point):
        self.input_peak.take(point.input_a, t)
        if self.logic.on and self.logic.ends_at["ramp"] == float("inf"):
            self.margin.take(point.in_v - self.scenario.turn_off_v, t)
            if self.logic.running:
                self.driving_margin.take(point.in_v - self.scenario.turn_off_v, t)


def first_change(low, high, changed):
    """Halve until the two floats are neighbours; the later one is returned, where the change has happened."""
    while True:
        mid = 0.5 * (low + high)
        if mid <= low or mid >= high:
            return high
        if changed(mid):
            high = mid
        else:
            low = mid
