//! Comparisons of the alternator: its regulator, its start, its rule.

use super::Claim;

const HATCHBACK: &str =
    "five drives of one small petrol hatchback of 2014, volts of its control unit in steps of 19.5 mV";
const CAR_OBD: &str = "carOBD, \"open source and free to everyone, please cite\"";
const RULED: &str = "figures of one car with a variable set-point, 44 min at 1 Hz";
const FIGURES: &str = "none: figures only, the log is not here";
/// The medians from which the defaults come are those of all 129 logs of that car.
const AMONG: &str = "none strictly: these logs are among the 129 from whose medians the defaults come";

pub(super) const CLAIMS: &[Claim] = &[
    Claim {
        what: "a fixed set-point falls as the regulator warms with the engine: volts after the first minute, through a 30 s \
               running median",
        data: HATCHBACK,
        licence: CAR_OBD,
        agreement: "0.07 to 0.09 V RMS on each drive. This car does not warm alike on its two cold drives: fitted on one alone, with time \
                    constants of some 4 and 16 min, the other is missed by 0.15 to 0.16 V, which is over the 0.15 V that was asked for",
        fitted: "both levels and the time constant, on `cold_commute` and `cold_long`",
        held_out: "`hot_commute`, `hot_motorway`, so the warm level; `cold_idle` lies half a volt low for minutes at idle, which \
                   no input tells: it is explained and not scored",
        check: ("tests/measured/hatchback.rs", "warm_up_and_warm_level"),
    },
    Claim {
        what: "the same by the defaults alone",
        data: HATCHBACK,
        licence: CAR_OBD,
        agreement: "0.05 to 0.14 V RMS on the four; 0.19 V on `cold_idle`, which is not scored",
        fitted: "14.30 V cold, falling by 0.65 V, 480 s: the medians of 39 cold starts",
        held_out: AMONG,
        check: ("tests/measured/hatchback.rs", "warm_up_and_warm_level"),
    },
    Claim {
        what: "volts pass 13 V some seconds after the engine passes 400 rpm",
        data: HATCHBACK,
        licence: CAR_OBD,
        agreement: "median within 2.5 to 5.5 s; measured 4.4 s, 5 to 95 % of 129 starts 2.5 to 8.4 s",
        fitted: "the default of 4 s",
        held_out: AMONG,
        check: ("tests/measured/hatchback.rs", "volts_build_up_after_the_start"),
    },
    Claim {
        what: "two threshold pairs: whether a unit would come on at all on a drive",
        data: HATCHBACK,
        licence: CAR_OBD,
        agreement: "for 13.6 V held for 30 s the same answer on all five drives; for 14.0 V held for 120 s on four: on `cold_long` the \
                    measured car is warm before",
        fitted: "nothing beyond the defaults",
        held_out: AMONG,
        check: ("tests/measured/thresholds.rs", "two_pairs_on_five_drives"),
    },
    Claim {
        what: "a threshold pair asked of a car: 14.0 V held for 120 s, 13.6 V for 30 s (`tickover measured` asks any pair)",
        data: "figures of the same hatchback, 129 drives, and of one car with a variable set-point, 44 min",
        licence: "carOBD as above; the other none, so figures only",
        agreement: "no prediction: the figures themselves, as a table that can be asked. 106 of 129 drives never come on at 14.0 V",
        fitted: "nothing",
        held_out: "nothing",
        check: ("sim-core/src/study/measured_cars.rs", "figures_bound_what_lies_between_them"),
    },
    Claim {
        what: "a log's volts replayed at the starter posts",
        data: HATCHBACK,
        licence: CAR_OBD,
        agreement: "0.05 V RMS through a 30 s running median",
        fitted: "nothing",
        held_out: "`cold_commute`",
        check: ("tests/measured/thresholds.rs", "a_log_replays_its_volts"),
    },
    Claim {
        what: "the shallow rule: volts second by second around the end of a fuel cut",
        data: RULED,
        licence: FIGURES,
        agreement: "0.05 V RMS over 17 s",
        fitted: "0.125 V/s up and 0.025 V/s down, from \"0.25 V in 2 s, 10 s back\"",
        held_out: "the 17 volts themselves",
        check: ("tests/measured/rule.rs", "volts_around_a_fuel_cut"),
    },
    Claim {
        what: "the shallow rule: levels at start-up, on overrun, cruising, accelerating and at idle",
        data: RULED,
        licence: FIGURES,
        agreement: "0.1 V each",
        fitted: "the levels",
        held_out: "nothing: it shows that droop and slew leave them where they were read",
        check: ("tests/measured/rule.rs", "levels_of_the_phases"),
    },
    Claim {
        what: "phases of a variable set-point told by less than engine speed and load, and from logs that are stale, scattered or full \
               of holes",
        data: "four drives of the hatchback, whose log has the engine's load; its set-point is fixed, so no volts are compared",
        licence: CAR_OBD,
        agreement: "the shallow rule's volts by speed and engine speed correlate by 0.79 with those by the load, 0.64 of the RMS \
                    of a constant; by speed alone by 0.70 and 0.77 (0.55 on the worst drive, whose driver rolls with the clutch \
                    open); by speed and load by 0.94",
        fitted: "which slowing counts as fuel cut, looked at on these drives",
        held_out: "nothing: no log of a car with a variable set-point is here",
        check: ("tests/measured/phases.rs", "phases_by_less_than_the_load"),
    },
];

pub(super) const UNTOUCHED: &[&str] = &[
    "Droop, capability curve and hot derate of an alternator: no currents were logged.",
    "The deep rule of a variable set-point: trade figures from memory. Its phases on the shallow one's car: whether the fuel is cut \
     was not logged for anybody here to read.",
    "How a regulator cools, and how warm it gets: only volts were logged. 30 K over the bay, with −10 mV/K, is one of many pairs \
     that give the same fall.",
    "Modern stop-start, heat of cables.",
];
