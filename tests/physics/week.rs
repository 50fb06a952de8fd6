//! Weeks: handed on from day to day they end as in one run; a parked month ends where the closed form says.

use sim_core::effects::Effects;
use sim_core::record::EventKind;
use sim_core::state::{HOUSE, STARTER};
use sim_core::study::Case;
use sim_core::time::DAY_S;
use sim_core::{Instant, Options, Record, Run, simulate, simulate_from};
use sim_tests::shipped::pattern;

/// The largest difference of any state at the ends of two runs.
fn apart(a: &Run, b: &Run, states: usize) -> f64 {
    (0..states).map(|n| (a.end[n] - b.end[n]).abs()).fold(0.0, f64::max)
}

#[test]
fn a_week_handed_on_from_day_to_day_ends_as_in_one_run() {
    for name in ["farrier", "school-run", "mountain-rescue", "touring-van"] {
        let (model, profile) = pattern(name, &[]);
        let options = Options { record: Record::Summary, ..Options::default() };
        let whole = simulate(&model, &profile, &options).expect("a run");
        let days = (profile.end().since(profile.start()) / DAY_S).round() as usize;
        assert_eq!(whole.days.len(), days, "{name}");
        let mut part: Option<Run> = None;
        let (mut events, mut output) = (0, 0.0);
        for day in 0..days {
            let at = |d: usize| Instant::from_s(d as f64 * DAY_S);
            let today = profile.between(at(day), at(day + 1)).expect("a day");
            let run = match &part {
                None => simulate(&model, &today, &options),
                Some(before) => simulate_from(&model, &today, &options, &before.standing),
            };
            let run = run.expect("a day");
            events += run.events.len();
            output += run.ledger.ah(sim_core::record::Line::OutputC);
            part = Some(run);
        }
        let last = part.expect("a week has days");
        let gap = apart(&whole, &last, Effects::of(&model).used());
        assert!(gap < 1e-9, "{name}: {gap:e}");
        assert_eq!(events, whole.events.len(), "{name}");
        let all = whole.ledger.ah(sim_core::record::Line::OutputC);
        assert!((output - all).abs() < 1e-9 * all.max(1.0), "{name}: {output} and {all} Ah");
        // The switch of modes and timers is handed on with the states.
        assert_eq!(last.standing.mode.on, whole.standing.mode.on);
        assert_eq!(last.standing.mode.timers, whole.standing.mode.timers);
    }
}

/// A cut in the middle of a drive, unit on, soft start running, absorption timers counting: nothing may be lost.
#[test]
fn a_cut_anywhere_hands_on_every_timer() {
    let (model, profile) = pattern("donor-bus", &["house_battery.start_pct=92", "house_battery.start_c=15"]);
    let options = Options { tolerance: 1e-11, record: Record::Summary, ..Options::default() };
    let whole = simulate(&model, &profile, &options).expect("a run");
    let drive_s = 8.0 * 3600.0;
    for cut_s in [drive_s + 0.4, drive_s + 20.0, drive_s + 32.0, drive_s + 900.0, drive_s + 2401.0] {
        let cut = Instant::from_s(cut_s);
        let first = profile.between(profile.start(), cut).expect("the first part");
        let first = simulate(&model, &first, &options).expect("a run");
        let second = profile.between(cut, profile.end()).expect("the second part");
        let second = simulate_from(&model, &second, &options, &first.standing).expect("a run");
        let gap = apart(&whole, &second, Effects::of(&model).used());
        // A cut is one more end of a step: what is left is the tolerance of the steps around it.
        assert!(gap < 1e-9, "cut at {cut_s} s: {gap:e}");
        assert_eq!(first.events.len() + second.events.len(), whole.events.len(), "cut at {cut_s} s");
    }
    let elsewhere = simulate_from(&model, &profile, &options, &whole.standing);
    assert!(elsewhere.is_err(), "a standing belongs to its instant");
    let again = simulate_from(&model, &profile, &options, &whole.standing.moved_to(profile.start()));
    assert_eq!(again.expect("the next day").start, whole.end);
}

/// Days parked at a constant draw: (SOC0 − SOC_min) Q / (24 I), a closed form of everyday use; self-discharge off.
#[test]
fn a_parked_month_ends_where_the_closed_form_says() {
    let words = [
        "physics.effects=none",
        "vehicle.parked_load_a=0.06",
        "converter.standby_ma=20",
        "starter_battery.chemistry=linear",
    ];
    for days in [7.0, 30.0, 38.0_f64] {
        let length = format!("calendar.lay_up.1.days={days}");
        let (model, profile) = pattern("lay-up", &[&words[..], &[&length, "calendar.days=42"]].concat());
        let run = simulate(&model, &profile, &Options::default()).expect("a run");
        // The lay-up, and the rest of the six weeks day by day, all parked.
        let (from, to) = (run.days[0].start[STARTER], run.days[0].end[STARTER]);
        let (capacity_ah, draw_a) = (80.0, 0.08);
        let closed_days = (from - to) * capacity_ah / (24.0 * draw_a);
        assert!((closed_days / days - 1.0).abs() < 1e-3, "{days} days: the closed form says {closed_days}");
        // What it reaches: a constant current is integrated exactly.
        assert!((closed_days / days - 1.0).abs() < 1e-9, "{days} days: the closed form says {closed_days}");
        assert_eq!(run.days[0].to, Instant::from_s(days * DAY_S));
    }
    // All six weeks: it is empty when the closed form says, on the day of the first event there is.
    let (model, profile) = pattern("lay-up", &words);
    let run = simulate(&model, &profile, &Options::default()).expect("a run");
    let empty = EventKind::StarterDead { dead: true };
    let at = run.events.iter().find(|e| e.kind == empty).expect("it runs empty");
    let closed_days = 0.92 * 80.0 / (24.0 * 0.08);
    assert!((at.t.as_s() / DAY_S / closed_days - 1.0).abs() < 1e-9, "{} days", at.t.as_s() / DAY_S);
}

/// A month costs what a day costs: the length of a piece under constant conditions makes no steps.
#[test]
fn a_laid_up_month_takes_no_more_steps_than_a_few_days() {
    let steps = |days: u32| {
        let length = format!("calendar.lay_up.1.days={days}");
        let whole = format!("calendar.days={days}");
        let (model, profile) = pattern("lay-up", &["physics.effects=none", &length, &whole]);
        assert_eq!(profile.pieces().len(), 1);
        let options = Options { record: Record::Summary, ..Options::default() };
        simulate(&model, &profile, &options).expect("a run").statistics.steps
    };
    let (few, month) = (steps(3), steps(30));
    assert!(month <= few + 3, "{few} steps for three days, {month} for thirty");
}

/// Half a sine from sunrise to sunset holds noon × daylight × 2/π, whatever the steps (closed form).
#[test]
fn a_seasons_sun_has_the_energy_of_half_a_sine() {
    for step_min in [1.0, 10.0, 60.0, 240.0] {
        let text = format!(
            "format = 2\n[calendar]\ndays = 2\nhold_season = \"s\"\nsun_step_min = {step_min}\n\n[[calendar.season]]\nname = \
             \"s\"\nair_c = 12\nsunrise = \"05:17\"\nsunset = \"21:02\"\nnoon_w = 130\n"
        );
        let case = case(&text);
        let (_, resolved) = case.resolve().expect("a calendar");
        let wh: f64 =
            resolved.profile.pieces().iter().map(|p| p.house_solar_w * p.end.since(p.start) / 3600.0).sum();
        let closed_wh = 2.0 * 130.0 * (21.0 + 2.0 / 60.0 - 5.0 - 17.0 / 60.0) * 2.0 / std::f64::consts::PI;
        assert!((wh / closed_wh - 1.0).abs() < 1e-9, "{step_min} min: {wh} against {closed_wh} Wh");
        assert!(resolved.profile.pieces().iter().all(|p| p.air_c == 12.0));
    }
}

/// A calendar and the list of pieces that says the same are the same drive.
#[test]
fn a_calendar_is_the_pieces_that_it_says() {
    let day = case(
        "format = 2\n[house]\nload_w = 20\n[calendar]\ndays = 1\nevery_day = \"d\"\n[[calendar.day]]\nname = \"d\"\n\
         [[calendar.day.drive]]\nat = \"08:00\"\nduration_min = 30\nengine_rpm = 1900\ntimes = 2\nevery_min = 90\n\
         house_load_w = 15\n[[calendar.day.during]]\nfrom = \"08:15\"\nto = \"12:00\"\nhouse_load_w = 70\nparked_load_a = 2\n\
         [[calendar.day.during]]\nfrom = \"23:00\"\nto = \"01:00\"\nhouse_load_w = 5\n",
    );
    let pieces = case(
        "format = 2\n[house]\nload_w = 20\n[drive]\nstart_clock = \"00:00\"\n[[drive.piece]]\nduration_h = 8\nengine_rpm = 0\n\
         [[drive.piece]]\nduration_min = 30\nengine_rpm = 1900\nhouse_load_w = 15\n\
         [[drive.piece]]\nduration_min = 60\nengine_rpm = 0\nhouse_load_w = 70\nvehicle_load_a = 2\n\
         [[drive.piece]]\nduration_min = 30\nengine_rpm = 1900\nhouse_load_w = 15\n\
         [[drive.piece]]\nduration_h = 2\nengine_rpm = 0\nhouse_load_w = 70\nvehicle_load_a = 2\n\
         [[drive.piece]]\nduration_h = 11\nengine_rpm = 0\n[[drive.piece]]\nduration_h = 1\nengine_rpm = 0\nhouse_load_w = 5\n",
    );
    let (day, pieces) = (day.resolve().expect("a calendar").1, pieces.resolve().expect("pieces").1);
    let (a, b) = (day.profile.pieces(), pieces.profile.pieces());
    assert_eq!(a.len(), b.len(), "{a:#?}");
    for (a, b) in a.iter().zip(b.iter()) {
        assert_eq!(a, b);
    }
    let run =
        |r: &sim_core::resolve::Resolved| simulate(&r.model, &r.profile, &Options::default()).expect("a run");
    assert_eq!(run(&day).end[HOUSE].to_bits(), run(&pieces).end[HOUSE].to_bits());
}

fn case(text: &str) -> Case {
    sim_tests::shipped::case(text)
}
