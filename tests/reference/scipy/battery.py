"""A battery of the plain model: E(SOC) + R0 + two RC branches, with a constant charge efficiency."""
from bisect import bisect_left

import numpy as np
from scipy.interpolate import PchipInterpolator

# One cell, volts by SOC, C/32 charge and discharge averaged: Sunil, Pattipati and Balasingam,
# IEEE Transactions on Instrumentation and Measurement, 2025 (open data). The knots .50 and .70 are interpolated, .80 and .90
# lie on the plateau of a rested bank (CC BY).
LFP_CELL = [(0, 2.010), (0.0534, 3.087), (0.0885, 3.194), (0.297, 3.277), (0.50, 3.299), (0.70, 3.321),
            (0.80, 3.329), (0.90, 3.332), (0.983, 3.351), (0.995, 3.418), (1, 3.598)]


class Battery:
    """Open-circuit voltage as one polynomial per SOC interval; interval 0 lies below the table, the last above."""

    def __init__(self, given):
        self.given = given
        self.r0_ohm = given.r0_ohm
        self.r1_ohm, self.tau1_s = given.r1_ohm, given.tau1_s
        self.r2_ohm, self.tau2_s = given.r2_ohm, given.tau2_s
        self.capacity_as = given.capacity_as
        self.efficiency = given.charge_efficiency
        if given.chemistry == "linear":
            self.knots = []
            self.pieces = [(0.0, given.empty_v, given.full_v - given.empty_v, 0.0, 0.0)]
        else:
            soc, volts = zip(*LFP_CELL)
            cubic = PchipInterpolator(np.array(soc), given.cells * np.array(volts))
            slope = cubic.derivative()
            inner = [(soc[k], *(float(cubic.c[3 - n, k]) for n in range(4))) for k in range(len(soc) - 1)]
            below = (soc[0], float(cubic(soc[0])), float(slope(soc[0])), 0.0, 0.0)
            above = (soc[-1], float(cubic(soc[-1])), float(slope(soc[-1])), 0.0, 0.0)
            self.knots = list(soc)
            self.pieces = [below, *inner, above]

    def interval(self, soc):
        return bisect_left(self.knots, soc)

    def open_v(self, soc, interval):
        """The polynomial of this interval, used beyond its ends too: a step must not see a kink."""
        base, c0, c1, c2, c3 = self.pieces[interval]
        x = soc - base
        return c0 + x * (c1 + x * (c2 + x * c3))

    def stored_j(self, soc):
        """Energy to bring the open-circuit store from SOC 0 to this SOC, from the antiderivative."""
        total, at = 0.0, 0.0
        for interval in range(self.interval(min(soc, 0.0)), self.interval(soc) + 1):
            top = soc if interval == len(self.knots) else min(soc, self.knots[interval])
            base, c0, c1, c2, c3 = self.pieces[interval]

            def primitive(s):
                x = s - base
                return x * (c0 + x * (c1 / 2 + x * (c2 / 3 + x * c3 / 4)))
            total += primitive(top) - primitive(at)
            at = top
        return total * self.capacity_as

    def branches_j(self, v1, v2):
        """Energy on the two branch capacitances, tau/R each."""
        first = self.tau1_s / self.r1_ohm * v1 * v1 / 2 if self.r1_ohm else 0.0
        second = self.tau2_s / self.r2_ohm * v2 * v2 / 2 if self.r2_ohm else 0.0
        return first + second
