//! The page of claims: what was checked against what, to how many digits, and what was never checked.
//!
//! The page is generated from this table and kept current: `TICKOVER_UPDATE=1 cargo test -p sim-tests` rewrites it. The
//! place of every check must exist.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// What is claimed, the outside source, its standing, the agreement reached, where the check lives (file, function).
type Claim = (&'static str, &'static str, &'static str, &'static str, &'static str, &'static str);

const OUTSIDE: &[Claim] = &[
    (
        "whole runs of the plain model: every event, its time, states of charge, ampere-hours; 35 vehicles",
        "an independent SciPy program written from the equations alone",
        "run in CI",
        "2 µs, 3e-11, 2e-7 Ah",
        "tests/reference/scipy/compare.py",
        "CASES",
    ),
    (
        "volts, amps and states over 15 stretches of the plain model: both current limits, voltage limit, float, soft start, cranking, parked, sun, alternator at its limit, a linear house battery; cycling, each switching told; conductors that warm, held and cycling",
        "ngspice on a netlist of the resolved model",
        "run in CI",
        "1e-6 V, 3e-5 A, 3e-8 SOC",
        "tests/reference/ngspice/stretches.py",
        "STRETCHES",
    ),
    (
        "volts, amps and states of the full lead-acid starter battery with its own warmth, over 6 stretches: parked with surface charge, discharged by 30 A, charged by the alternator at 20 °C and in air of −10 °C, unit at its output limit and at its input limit",
        "ngspice, the battery as behavioural sources written from the equations; their constants are the program's",
        "run in CI",
        "2e-8 V, 2e-6 A, 5e-9 SOC",
        "tests/reference/ngspice/stretches.py",
        "LEAD_ACID_BITES",
    ),
    (
        "the plain house battery's volts and state of charge: constant current, 79 pulses, taper into float",
        "PyBaMM's Thevenin model with two RC elements, solved by IDA",
        "run in CI",
        "5e-6 V, 3e-8 SOC",
        "tests/reference/pybamm/check.py",
        "CASES",
    ),
    (
        "steps and restarts on our own equations, plain and full, instants of switching given",
        "diffsol: an explicit pair, and an implicit method of variable order",
        "run in CI",
        "plain 1e-10 and 2e-9, full 1e-9 and 2e-8 of 1 V, of SOC 1, of 100 K",
        "tests/reference/diffsol.rs",
        "every_effect_on",
    ),
    (
        "the reference van's events, counts and critical lengths",
        "an independent program's table",
        "from the design of the vehicle",
        "1 ms, 1e-6, counts exact, 2 cm",
        "tests/reference/reference_van.rs",
        "as_it_stands",
    ),
    (
        "conductor resistance",
        "IEC 60228 tables 2 and 3",
        "seen quoted in three public pages; the program's table was typed from them",
        "three rows as printed; ISO 6722-1, from memory, lies 4 to 6 % lower at all 12 sizes",
        "tests/reference/conductors.rs",
        "iec_60228",
    ),
    (
        "what a conductor carries for good; short circuits; rules of fuses by hand",
        "IEC 60364-5-52 method F; 33 CFR 183.425 table 5; IEC 60364-4-43; ISO 8820-3",
        "three loaded in trefoil seen quoted, two loaded from memory; the table for boats seen; k from memory, its example quoted",
        "clipped beside trefoil 4 %, free beside two loaded 6 %, free beside the table for boats 10 %; k 0.2, 6.9 mm²",
        "tests/reference/sizing.rs",
        "a_clipped_cable_beside_method_f",
    ),
    (
        "conductor resistance when warm",
        "BS 7671 volt-drop table 4E1B at 90 °C",
        "seen quoted",
        "12 sizes within 2.1 %",
        "tests/reference/conductors.rs",
        "bs_7671_volt_drop_at_90_c",
    ),
    (
        "AWG and SAE areas",
        "ASTM B258, SAE J1128",
        "seen quoted in two public pages",
        "to the printed digits",
        "tests/reference/conductors.rs",
        "awg_areas_and_resistance",
    ),
    (
        "volt drop of flexible cables at 60 °C; stranded AWG at 75 °C",
        "BS 7671 table 4F3B; NEC chapter 9 table 8",
        "seen quoted, the latter on one page",
        "within 4.7 %, today's class 5 the lower; 0.5 %",
        "tests/reference/conductors.rs",
        "nec_table_8_at_75_c",
    ),
    (
        "volt drop by circular mils, two worked examples",
        "ABYC E-11",
        "formula seen; examples seen twice",
        "5e-4",
        "tests/reference/conductors.rs",
        "abyc_worked_examples",
    ),
    (
        "heat given off by a cable",
        "BS 7671 table 4E1A and 33 CFR 183.425 table 5",
        "the latter seen directly",
        "a bracket: 0.65 to 1.4 of what the tables imply",
        "sim-core/src/plant/laying.rs",
        "free_air_lies_within_the_bracket_that_two_tables_imply",
    ),
    (
        "settled temperature of a conductor",
        "closed form, worked example",
        "recomputed",
        "1 mK",
        "sim-core/src/plant/cable.rs",
        "settles_where_the_closed_form_says",
    ),
    (
        "heat of a conductor in a fault of under a second or two, in whole runs",
        "IEC 60364-5-54's adiabatic formula, k of 115, 143 and 176; a published example",
        "seen quoted on several pages",
        "1 % of the rise, the printed k having three digits",
        "tests/reference/warming.rs",
        "a_short_fault_heats_as_the_adiabatic_formula_says",
    ),
    (
        "warming of a cable under a steady current, in whole runs",
        "closed form, three worked examples",
        "recomputed",
        "0.5 mK settled; 4e-4 of the rise on the way",
        "tests/reference/warming.rs",
        "a_steady_current_settles_as_worked_examples_say",
    ),
    (
        "constant power behind a resistance, the fold included",
        "textbook algebra, worked rows",
        "recomputed",
        "1e-6",
        "tests/reference/worked_examples.rs",
        "constant_power_load_behind_a_resistance",
    ),
    (
        "critical loop resistance and length",
        "closed form (c3)",
        "derived",
        "1 µm",
        "tests/reference/closed_forms.rs",
        "critical_resistance_and_length",
    ),
    (
        "period of cycling",
        "closed form (c14)",
        "derived",
        "0.04 %",
        "tests/reference/closed_hunting.rs",
        "period_of_hunting",
    ),
    (
        "onset of sustained cycling",
        "closed form (c17)",
        "derived",
        "1.3e-4 settled; 0.71 % on a day too short to settle",
        "tests/reference/closed_hunting.rs",
        "onset_of_sustained_hunting",
    ),
    (
        "where sustained cycling begins, found by the search over whole runs",
        "an independent program's table; closed form (c17) beside it",
        "from the design of the vehicle; derived",
        "2 cm; 0.9 %, with the reason told",
        "tests/reference/distances.rs",
        "sustained_hunting_begins_where_an_independent_program_found_it",
    ),
    (
        "start-up cycles",
        "closed form (c18)",
        "derived",
        "10 µm",
        "tests/reference/closed_hunting.rs",
        "start_up_cycles",
    ),
    (
        "relay cycles on first-order and integrating sources",
        "closed forms of relay control",
        "one checked by simulation elsewhere",
        "6 µs",
        "tests/reference/worked_hunting.rs",
        "first_order_cycle",
    ),
    (
        "pulsed set-point, trips, parked weeks, bulk time, absorption taper",
        "closed forms (c7, c9, c12, c13, c15)",
        "derived",
        "1e-9 Ah to 1e-7 of the time constant",
        "tests/reference/closed_charge.rs",
        "absorption_taper",
    ),
    (
        "step response of a battery",
        "closed form of R0 and one RC branch",
        "derived",
        "1e-6 V",
        "tests/reference/worked_examples.rs",
        "step_response_of_a_battery",
    ),
    (
        "constant current, then constant voltage; an alternator beside a battery; capacitors",
        "closed forms, worked rows",
        "derived",
        "the rows' printed digits",
        "tests/reference/worked_examples.rs",
        "constant_current_then_constant_voltage",
    ),
    (
        "rested volts of the starter battery at five states of charge",
        "an industry table",
        "seen on one page; the set was fitted to it",
        "0.06 V; other tables differ by 0.1 V",
        "sim-core/src/plant/battery/lead_acid/tests/behaviour.rs",
        "rested_volts_and_resistance",
    ),
    (
        "shape of the alternator's capability",
        "an engine's technical data, three points",
        "seen on one page",
        "6 %",
        "tests/reference/alternator.rs",
        "the_curves_shape_foretells_a_third_point",
    ),
    (
        "turn-on at 14.0 V held for 120 s and turn-off at 13.1 V, with a variable-voltage alternator",
        "trade",
        "common practice, no source",
        "reproduced: overruns of 30 s never start it, cruising ends it by its delay",
        "tests/reference/trade.rs",
        "thresholds_for_a_variable_voltage_alternator",
    ),
    (
        "16 mm² copper for up to 50 A on a run of suitable length",
        "trade",
        "common practice, no source",
        "explained: 3.0 m one way by 3 % volt drop; any length by heat, 10 K; 8.6 m by cycling",
        "tests/reference/trade.rs",
        "sixteen_square_millimetres_for_fifty_amperes",
    ),
    (
        "40 A out of the unit shown together with 511 W",
        "trade",
        "common practice, no source",
        "explained: a low battery's 12.775 V",
        "tests/reference/trade.rs",
        "forty_amperes_and_511_watts",
    ),
    (
        "12.1 V on a parked starter battery, 13.6 V on a house bank that the sun has filled",
        "trade",
        "common practice, no source",
        "reproduced: 38 days at 55 mA; 0.01 V and 0.05 V",
        "tests/reference/trade.rs",
        "parked_for_weeks_in_the_sun",
    ),
    (
        "length, distance and top speed of the drive schedules",
        "40 CFR parts 86 and 600",
        "seen directly",
        "0.2 %",
        "sim-cli/tests/schedules.rs",
        "schedules_are_as_long_and_as_fast_as_the_regulations_say",
    ),
    (
        "days parked at a constant draw, until the starter battery is empty",
        "closed form (SOC0 − SOC) Q / (24 I)",
        "derived",
        "1e-9",
        "tests/physics/week.rs",
        "a_parked_month_ends_where_the_closed_form_says",
    ),
    (
        "when stop-start starts the engine again, on a battery that is a linear EMF behind one resistance",
        "closed form: the charge down to the EMF at which the posts reach the threshold, over the current drawn",
        "derived",
        "1 ms, 1e-6 V",
        "tests/physics/on_stop_start.rs",
        "the_engine_is_started_again_when_the_posts_reach_the_threshold",
    ),
    (
        "driving a day at which a calendar breaks even",
        "closed form: output limit times what each drive leaves over its turn-on",
        "derived",
        "0.2 %",
        "tests/physics/week_answers.rs",
        "it_breaks_even_where_the_closed_form_says",
    ),
    (
        "set-point, state of charge and posts under a typed set-point rule, from its file on; when the unit comes on by it",
        "closed form: a first-order battery behind a set-point that ramps; the corners by hand",
        "derived",
        "1e-7 V, 1e-9 SOC, 1 µs",
        "sim-cli/tests/set_point_rule.rs",
        "a_typed_rule_is_followed_to_the_closed_form",
    ),
    (
        "energy of a season's sun over a day",
        "half a sine: noon times daylight times 2/π",
        "derived",
        "1e-9",
        "tests/physics/week.rs",
        "a_seasons_sun_has_the_energy_of_half_a_sine",
    ),
    (
        "a fuse under a steady current opens after its curve's time; steps add up, pulses fade between, in whole runs",
        "the sum of time over opening time (IEEE C37.112, for relays), worked by hand",
        "seen quoted; derived",
        "1e-9 steady, 1 µs in steps, 10 µs in pulses",
        "tests/physics/on_fuse.rs",
        "a_steady_current_opens_it_at_the_curve_s_time",
    ),
];

/// What is checked only against ourselves or against figures from memory.
const OURSELVES: &[(&str, &str)] = &[
    (
        "charge and energy balance, term by term, on plain vehicles: 1e-12 and 1e-9",
        "tests/physics/ledgers.rs",
    ),
    (
        "the same at 1e-9 and 1e-7, no loss negative and no more charge through more resistance: every shipped scenario, pattern \
         and fault, random plain and full vehicles",
        "tests/physics/every_loss.rs",
    ),
    ("input under its bus, no bus above what raises it, on the same", "tests/physics/every_bus.rs"),
    (
        "a month's shift to the bit, pieces cut in bits, half of everything to 1e-5 V, on the same",
        "tests/physics/every_symmetry.rs",
    ),
    (
        "signs and bounds: no loss below zero, input under the bus, states of charge in range",
        "tests/physics/signs_bounds.rs",
    ),
    (
        "the same and the sources' ceilings on full and shipped vehicles; nothing colder than air and start",
        "tests/physics/every_sign.rs",
    ),
    (
        "batteries that can give no more, both sides: loads shed once by name, what they missed booked, no volts below zero, no \
         state of charge out of range, both steppers; every shipped scenario with every house chemistry closes",
        "tests/physics/collapse.rs",
    ),
    (
        "mutated scenarios, drive files and `--set` words: no panic, no hang, memory bounded by the text; fresh seeds in CI",
        "tests/fuzz/main.rs",
    ),
    (
        "a full disk, a kill at any moment, two runs into one folder: no half file",
        "sim-cli/tests/interrupted.rs",
    ),
    (
        "the three program checks bite: one constant turned by 1 % on one side, 13, 49 and 9 times, is seen; run in CI",
        "tests/reference/scipy/compare.py",
    ),
    (
        "ten thousand wild full vehicles, fast steps against a tight implicit method: 9,989 agree on sequence, times and \
         charge, ten leave the model and are refused alike, in one a microvolt moves the sequence. By one command, not part of \
         CI",
        "tests/wild/main.rs",
    ),
    ("half the tolerance moves no event beyond its conditioning", "tests/physics/tolerance.rs"),
    (
        "margins, borders and remedies: each border run again on both sides, beside the closed forms; a band is the same from \
         two starting points and has one outcome on either side, 60 runs each; run-on beside (c6) to 1 %, the end of absorption \
         beside (c8) to 0.1 W with its reasons",
        "tests/reference/distances.rs",
    ),
    (
        "remedies: what is told leaves no trouble in the whole run, and less than its least leaves some, on vehicles changed by \
         hand in the terms of the remedy; one of each fault and 20 drawn from fixed seeds, 200 from a seed of the day in CI, of those \
         whose cause can be undone nine in ten get a remedy",
        "tests/confusion/remedies.rs",
    ),
    (
        "what cautions forbid is never proposed: remedies, `mend` and `tune` over every shipped fault; settings under the rails have \
         no score over every shipped pattern",
        "tests/physics/rails.rs",
    ),
    (
        "why it cycled: 200 vehicles with one cause each, labelled as they were made, from a seed of the day; run in CI",
        "tests/confusion/main.rs",
    ),
    (
        "sweeps, maps, cliffs, tuning: the same bytes in parts and on any number of threads; borders beside closed forms",
        "tests/reference/studies.rs",
    ),
    ("a run shifted by a month gives the same bits", "tests/physics/shift.rs"),
    (
        "each effect beyond the plain model: its rule shows its signature, ledgers close",
        "tests/physics/effects.rs",
    ),
    (
        "the lead-acid battery: fitted to trade figures, which its test reproduces within stated bands",
        "sim-core/src/plant/battery/lead_acid/tests.rs",
    ),
    (
        "hysteresis, relaxing top, cold and heat of the LFP battery: from memory and one table",
        "sim-core/src/plant/battery/lithium/tests.rs",
    ),
    (
        "when fuses of a type open: bands of ISO 8820-3 and -5 from memory; a fuse that holds changes no bit of a run",
        "tests/physics/on_fuse.rs",
    ),
    ("a week handed on from day to day ends as in one run: 1e-9", "tests/physics/week.rs"),
    (
        "flat on the day of one long calendar; trips that pay, by hand on both sides",
        "tests/physics/week_answers.rs",
    ),
    ("drive patterns show in kind what they are there for", "sim-cli/tests/patterns/main.rs"),
];

const NOT_VALIDATED: &str = "\
What has been compared with measurements stands in MEASURED.md beside this page, with how little that is. The equations are solved right, as far as the checks above \
reach; whether they are the right equations for a given van is not shown. The full model's parameters are trade practice or \
from memory, and each default says so: charge acceptance and relaxation of the starter battery within about 30 %, rested volts \
within 0.1 V, gassing within a factor of three, heat of cables in a vehicle within a factor of two, the set-point rule of a \
variable alternator read off one car, and unknown for any other until measured. Left out: anything faster than about 0.1 s (load dump, ripple, the unit's control \
loop and its interaction with the source), losses that change with input voltage, cells out of balance, stratification, \
sulfation, ageing within a run.";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace").to_owned()
}

fn page() -> String {
    let mut text = String::from(
        "# What was checked, and what was not\n\n\
         Generated by `tests/regression/claims.rs`; a test keeps it current. \"From memory\" means a band at most.\n\n\
         ## Against the outside\n\n\
         | claim | outside source | its standing | agreement reached | check |\n|---|---|---|---|---|\n",
    );
    for (claim, source, standing, reached, file, name) in OUTSIDE {
        let _ = writeln!(text, "| {claim} | {source} | {standing} | {reached} | `{file}`: `{name}` |");
    }
    text.push_str("\n## Only against ourselves, or figures from memory\n\n| what | check |\n|---|---|\n");
    for (what, file) in OURSELVES {
        let _ = writeln!(text, "| {what} | `{file}` |");
    }
    let _ = write!(text, "\n## Not validated\n\n{NOT_VALIDATED}\n");
    text
}

#[test]
fn every_check_is_where_the_page_says() {
    let outside = OUTSIDE.iter().map(|c| (c.4, Some(c.5)));
    let ours = OURSELVES.iter().map(|c| (c.1, None));
    for (file, name) in outside.chain(ours) {
        let text = std::fs::read_to_string(root().join(file)).unwrap_or_else(|e| panic!("{file}: {e}"));
        if let Some(name) = name {
            let there = [format!("fn {name}("), format!("{name} = [")].iter().any(|n| text.contains(n));
            assert!(there, "{file} has no {name}");
        }
    }
}

#[test]
fn the_page_is_current() {
    let path = root().join("tests/CLAIMS.md");
    if std::env::var_os("TICKOVER_UPDATE").is_some() {
        std::fs::write(&path, page()).expect("the page can be written");
    }
    let there = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(there == page(), "tests/CLAIMS.md is not current; run with TICKOVER_UPDATE=1");
}
