//! Comparisons of the batteries.

use super::Claim;

/// Where the checks live.
const FILE: &str = "tests/physics/measured_batteries.rs";

pub(super) const CLAIMS: &[Claim] = &[
    Claim {
        what: "an AGM house battery of 100 Ah: charged at 31.2 A from rested empty, held near 14.95 V, at rest, discharged at 10 A, at rest",
        data: "one sealed lead-acid battery on a bench, make and age unknown",
        licence: "none, so figures only",
        agreement: "charge 0.03 V, hold 9 % (15 % at its end), rest 0.04 V, discharge 0.04 V (0.09 V at its end), rested empty 0.09 V; warmed by 7.5 K for 4.3 K of a sensor whose place is unknown",
        fitted: "the AGM kind: volts after 50, 110, 140 min of charge, amperes after 170 and 230 min, volts 10 min and 2.4 h after, volts soon, after 1, 6 and 8.5 h at 10 A, rested volts when empty, loss of heat",
        held_out: "volts after 20 and 80 min of charge, amperes after 200 and 290 min, volts at rest after an hour, volts after 3.5 h at 10 A",
        check: (FILE, "sealed_100_ah_battery_on_a_bench"),
    },
    Claim {
        what: "surface charge of a flooded starter battery after key-off: it falls by 0.08 V from 20 to 80 min, and stands 0.1 to 0.3 V over rest for hours",
        data: "a light aircraft's 28 V bus after key-off, loads unknown; the bench battery at rest",
        licence: "none, so figures only",
        agreement: "−0.077 V; 0.21 V after 80 min, 0.17 V after 3 h",
        fitted: "the flooded kind's slow branch on charge, to that fall",
        held_out: "the level: 13.15 to 13.18 V measured, of a battery of another kind; 12.95 to 12.97 V here",
        check: (FILE, "surface_charge_lasts_as_on_an_aircraft_bus"),
    },
    Claim {
        what: "an LFP bank at rest for weeks, 96 % full by its owner, who drew on it last",
        data: "a 12.8 V bank through ten weeks, repository wkcollis1-eng/Lifepo4-Battery-Banks",
        licence: "CC BY",
        agreement: "13.27 V for 13.26 to 13.28 V",
        fitted: "the table's knots at 80 and 90 % and the excess at 98.3 %",
        held_out: "nothing",
        check: (FILE, "lfp_bank_rests_at_its_plateau"),
    },
    Claim {
        what: "half of the gap between charge and discharge of an LFP cell at C/30, 30 to 90 % full",
        data: "one LFP cell, both ways",
        licence: "none, so figures only",
        agreement: "27 mV for 12 to 29 mV; 12 mV of it are the drop in resistances that hold a protection and links",
        fitted: "the hysteresis, with the bank's rest",
        held_out: "how the gap goes with the state of charge: it stays the same here",
        check: (FILE, "lfp_half_gap_at_c_30"),
    },
];

pub(super) const UNTOUCHED: &[&str] = &[
    "Batteries over hours parked in a vehicle, in the cold, old, or of gel; a starter battery of known kind after a drive.",
    "How warm a starter battery gets in the engine bay; what a full battery gasses.",
    "LFP resistances in the cold.",
];
