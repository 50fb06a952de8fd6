//! A plain vehicle as a scenario file in which every key is typed, for programs that know no defaults.

use sim_core::Instant;
use sim_core::model::{Model, Piece, Profile};
use sim_core::network::Sense;
use sim_core::plant::battery::{Battery, Emf};
use std::fmt::Write;

/// The scenario, or `None` for a vehicle that the plain model of other programs cannot express.
pub fn as_toml(name: &str, m: &Model, p: &Profile) -> Option<String> {
    let link = m.link();
    let c = &link.converter;
    if c.floor_v != 0.0 || c.sense != Sense::Terminals || p.start() != Instant::ZERO {
        return None;
    }
    let (a, v, ss, st) = (&m.alternator, &m.vehicle, &link.start_stop, &link.stages);
    let mut out = format!("# A random vehicle, invented.\nformat = 2\nname = \"{name}\"\n");
    let mut section = |title: &str, keys: &[(&str, f64)]| {
        let _ = write!(out, "\n[{title}]\n");
        for (key, value) in keys {
            let _ = writeln!(out, "{key} = {value:?}");
        }
    };
    section(
        "alternator",
        &[
            ("set_point_v", a.set_point_v),
            ("droop_mohm", 1e3 * a.droop_ohm),
            ("asymptote_a", a.asymptote_a),
            ("cut_in_rpm", a.cut_in_rpm),
            ("rise_rpm", a.rise_rpm),
            ("pulley_ratio", a.pulley_ratio),
        ],
    );
    section(
        "vehicle",
        &[("running_load_a", 0.0), ("parked_load_a", 0.0), ("crank_a", v.crank_a), ("crank_s", v.crank_s)],
    );
    section(
        "converter",
        &[
            ("output_limit_a", c.output_limit_a),
            ("input_limit_a", c.input_limit_a),
            ("fixed_loss_w", c.loss.fixed_w),
            ("proportional_loss_pct", 100.0 * c.loss.proportional),
            ("square_loss_per_w", c.loss.square_per_w),
            ("ramp_s", c.ramp_s),
            ("standby_ma", 1e3 * c.standby_a),
            ("case_heat_j_per_k", c.case_j_per_k),
            ("case_release_w_per_k", c.case_w_per_k),
        ],
    );
    section(
        "start_stop",
        &[
            ("turn_on_v", ss.turn_on_v),
            ("turn_on_delay_s", ss.turn_on_delay_s),
            ("turn_off_v", ss.turn_off_v),
            ("turn_off_delay_s", ss.turn_off_delay_s),
        ],
    );
    section(
        "stages",
        &[
            ("absorption_v", st.absorption_v),
            ("tail_a", st.tail_a),
            ("tail_hold_s", st.tail_hold_s),
            ("absorption_cap_min", st.absorption_cap_s / 60.0),
            ("float_v", st.float_v),
            ("recharge_v", st.recharge_v),
            ("recharge_hold_s", st.recharge_hold_s),
        ],
    );
    section("house", &[("load_w", 0.0)]);
    let solar = &m.house_solar;
    section(
        "house_solar",
        &[("power_w", 0.0), ("set_point_v", solar.set_v), ("resistance_mohm", 1e3 * solar.droop_ohm)],
    );
    for (title, run) in [("input_cable", &link.input_cable), ("output_cable", &link.output_cable)] {
        // All resistance in the joints: tables of conductors play no part.
        section(title, &[("length_m", 0.0), ("area_mm2", 16.0), ("joints_mohm", 1e3 * run.resistance_ohm())]);
    }
    battery(&mut out, "starter_battery", &m.starter)?;
    battery(&mut out, "house_battery", &m.house)?;
    let _ = write!(out, "\n[drive]\nstart_clock = \"08:00\"\nair_c = 20\n");
    p.pieces().iter().for_each(|q| piece(&mut out, &q));
    Some(out.replace("area_mm2 = 16.0\n", "area_mm2 = 16\nconductor = \"class-5\"\n"))
}

fn battery(out: &mut String, title: &str, b: &Battery) -> Option<()> {
    let b = b.plain()?;
    let _ = write!(out, "\n[{title}]\n");
    match &b.emf {
        Emf::Linear { empty_v, full_v } => {
            let _ = write!(out, "chemistry = \"linear\"\nempty_v = {empty_v:?}\nfull_v = {full_v:?}\n");
        }
        emf if *emf == crate::van::lfp_emf() => {
            let _ = write!(out, "chemistry = \"lfp\"\ncells = 4\n");
        }
        Emf::Table(_) => return None,
    }
    for (key, value) in [
        ("capacity_ah", b.capacity_c / 3600.0),
        ("start_pct", 100.0 * b.start_soc),
        ("r0_mohm", 1e3 * b.r0_ohm),
        ("r1_mohm", 1e3 * b.branch_ohm[0]),
        ("tau1_s", b.branch_s[0]),
        ("r2_mohm", 1e3 * b.branch_ohm[1]),
        ("tau2_s", b.branch_s[1]),
        ("charge_efficiency_pct", 100.0 * b.charge_efficiency),
    ] {
        let _ = writeln!(out, "{key} = {value:?}");
    }
    Some(())
}

fn piece(out: &mut String, q: &Piece) {
    let _ = write!(out, "\n[[drive.piece]]\n");
    for (key, value) in [
        // Whole nanoseconds, so that both programs read the same instants.
        ("duration_s", q.end.since(q.start)),
        ("engine_rpm", q.engine_rpm),
        ("set_point_v", q.set_point_v),
        ("vehicle_load_a", q.vehicle_load_a),
        ("house_load_w", q.house_load_w),
        ("house_solar_w", q.house_solar_w),
        ("air_c", q.air_c),
    ] {
        let _ = writeln!(out, "{key} = {value:?}");
    }
}
