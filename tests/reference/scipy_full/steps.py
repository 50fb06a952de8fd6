"""Integration between two instants: DOP853 (Hairer, Norsett and Wanner) with SciPy's coefficients, compiled.

Kinks inside a step are left to the error control. What the rules watch is not: `advance` ends at the first nanosecond at
which any condition differs, found by halving, each trial a whole step of its own from the step's start.
"""
import numpy as np
from scipy.integrate import DOP853

from compiled import compiled
from flow import look, rates
from params import SIZE, STATES

STAGES = 12
A, B, C = DOP853.A[:STAGES, :STAGES].copy(), DOP853.B.copy(), DOP853.C[:STAGES].copy()
E3, E5 = DOP853.E3.copy(), DOP853.E5.copy()
NS = 1e-9
LOOKS = 4               # in a step, with its end


@compiled
def take(t, h, y, f, K, new, trial, M):
    """One step of length h from y with the rate f; the new state into `new`. Returns the squares of the two errors."""
    m, g, batteries, tables, knots, wires, fp, fn, room, scale = M
    K[0, :] = f
    for s in range(1, STAGES):
        for k in range(SIZE):
            a = 0.0
            for r in range(s):
                a += A[s, r] * K[r, k]
            trial[k] = y[k] + h * a
        rates(t + C[s] * h, trial, m, g, batteries, tables, knots, wires, fp, fn, room, K[s])
    for k in range(SIZE):
        a = 0.0
        for r in range(STAGES):
            a += B[r] * K[r, k]
        new[k] = y[k] + h * a


@compiled
def error(h, K, scale):
    """Hairer's blend of the errors of order 5 and 3, over the states alone."""
    five = three = 0.0
    for k in range(STATES):
        a = b = 0.0
        for r in range(STAGES):
            a += E5[r] * K[r, k]
            b += E3[r] * K[r, k]
        five += (a / scale[k]) ** 2
        three += (b / scale[k]) ** 2
    below = five + 0.01 * three
    if below == 0:
        return 0.0
    return abs(h) * five / np.sqrt(below * STATES)


@compiled
def advance(y, length_ns, first_s, most_s, m, g, batteries, tables, knots, wires, fp, fn, room, scale, counts):
    """From y over `length_ns` nanoseconds, or to the first instant at which a condition differs from those of now.
    y is moved there; returns nanoseconds gone, the last step, and whether a condition changed."""
    M = (m, g, batteries, tables, knots, wires, fp, fn, room, scale)
    K = np.empty((STAGES, SIZE))
    f, f1, new, trial, mid = np.empty(SIZE), np.empty(SIZE), np.empty(SIZE), np.empty(SIZE), np.empty(SIZE)
    t_ns = 0
    begin = look(0.0, y, m, g, batteries, tables, knots, wires, fn, room)
    rates(0.0, y, m, g, batteries, tables, knots, wires, fp, fn, room, f)
    h_s = first_s
    while t_ns < length_ns:
        left = length_ns - t_ns
        h_ns = min(left, max(1, int(h_s * 1e9)))
        if h_ns < left < 2 * h_ns:
            h_ns = left // 2
        h = h_ns * NS
        t = t_ns * NS
        take(t, h, y, f, K, new, trial, M)
        miss = error(h, K, scale)
        counts[0] += 1
        if not miss < np.inf:               # a trial state far outside what the equations know
            if h_ns <= 100:
                raise ValueError('a rate is not a number')
            h_s = 0.1 * h
            counts[1] += 1
            continue
        if miss > 1 and h_ns > 100:
            h_s = h * max(0.2, 0.9 * miss ** -0.125)
            counts[1] += 1
            continue
        rates(t + h, new, m, g, batteries, tables, knots, wires, fp, fn, room, f1)
        # Looks inside the step, on its cubic; what they find is looked at again on a step of its own.
        last = 0
        for n in range(1, LOOKS + 1):
            at_ns = h_ns if n == LOOKS else h_ns * n // LOOKS
            if n < LOOKS:
                x = at_ns / h_ns
                for k in range(SIZE):
                    d = new[k] - y[k]
                    mid[k] = (1 - x) * y[k] + x * new[k] + x * (x - 1) * (
                        (1 - 2 * x) * d + (x - 1) * h * f[k] + x * h * f1[k])
                found = look(t + at_ns * NS, mid, m, g, batteries, tables, knots, wires, fn, room)
                if found != begin:
                    take(t, at_ns * NS, y, f, K, mid, trial, M)
                    found = look(t + at_ns * NS, mid, m, g, batteries, tables, knots, wires, fn, room)
            else:
                found = look(t + h, new, m, g, batteries, tables, knots, wires, fn, room)
            if found != begin:
                low, high = last, at_ns
                while high - low > 1:
                    half = (low + high) // 2
                    take(t, half * NS, y, f, K, mid, trial, M)
                    if look(t + half * NS, mid, m, g, batteries, tables, knots, wires, fn, room) != begin:
                        high = half
                    else:
                        low = half
                take(t, high * NS, y, f, K, mid, trial, M)
                y[:] = mid
                return t_ns + high, h_s, True
            last = at_ns
        y[:] = new
        f[:] = f1
        t_ns += h_ns
        grow = 5.0 if miss == 0 else min(5.0, max(0.2, 0.9 * miss ** -0.125))
        if h_ns < left or grow < 1:
            h_s = min(most_s, h * grow)
    return t_ns, h_s, False
