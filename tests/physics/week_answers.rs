//! Answers about a calendar that goes on, each checked against another way to it.

use sim_core::record::days::goes_flat;
use sim_core::record::{EventKind, Line};
use sim_core::state::STARTER;
use sim_core::study::Case;
use sim_core::study::week::{Balance, BreakEven, Ending, TripPays, break_even, outlook, trip_pays};
use sim_core::{Options, Piece, Profile, Record, simulate};
use sim_tests::shipped::{case, pattern};

fn summary() -> Options {
    Options { record: Record::Summary, ..Options::default() }
}

/// Living one day again and again is living a calendar of many days.
#[test]
fn flat_on_the_same_minute_as_in_one_long_calendar() {
    for (name, words) in
        [("canal-boat", vec!["converter.output_limit_a=30"]), ("farrier", vec!["house_battery.start_pct=95"])]
    {
        let (model, profile) = pattern(name, &words);
        let Ending::Flat { t_s } =
            outlook(&model, &profile, None, 20, &summary()).expect("an outlook").ending
        else {
            panic!("{name} goes flat");
        };
        let long: Vec<&str> = words
            .iter()
            .copied()
            .chain([if name == "farrier" { "calendar.weeks=3" } else { "calendar.days=6" }])
            .collect();
        let (model, profile) = pattern(name, &long);
        let run = simulate(&model, &profile, &summary()).expect("a run");
        let event = run.events.iter().find(|e| goes_flat(&run, &model, e)).expect("it goes flat");
        assert!((event.t.as_s() - t_s).abs() < 1.0, "{name}: {} and {t_s} s", event.t.as_s());
    }
}

const DAILY: &str = "format = 2\n[physics]\neffects = \"none\"\n[house]\nload_w = 25\n[calendar]\ndays = 2\nevery_day = \"d\"\n\
                     [[calendar.day]]\nname = \"d\"\n[[calendar.day.drive]]\nat = \"09:00\"\nduration_min = 20\nengine_rpm = 2000\n";

/// Trips of one length deliver I_out × (T − t_on), closed form c9; it breaks even where that is what the loads take.
#[test]
fn it_breaks_even_where_the_closed_form_says() {
    let case = case(DAILY);
    let even = break_even(&case, Balance::House).expect("a break-even");
    let BreakEven::At { factor, driving_min_per_day } = even else { panic!("{even:?}") };
    assert!((driving_min_per_day - 20.0 * factor).abs() < 1e-6);
    let run = |factor: f64| {
        let (_, r) =
            case.with("calendar.drive_factor", factor).expect("a key").resolve().expect("a calendar");
        (simulate(&r.model, &r.profile, &summary()).expect("a run"), r)
    };
    let (at, r) = run(factor);
    let loads_ah = at.ledger.ah(Line::HouseLoadC) / 2.0;
    let first = |kind| at.events.iter().find(|e| e.kind == kind).expect("it happens").t;
    let t_on_s = first(EventKind::UnitOn).since(first(EventKind::KeyOn));
    // Half the soft start is lost, the turn-off delay is given back.
    let link = r.model.link();
    let lost_s = t_on_s + link.converter.ramp_s / 2.0 - link.start_stop.turn_off_delay_s;
    let closed_min = (loads_ah / link.converter.output_limit_a * 3600.0 + lost_s) / 60.0;
    assert!(
        (driving_min_per_day / closed_min - 1.0).abs() < 0.01,
        "{driving_min_per_day} against {closed_min} min"
    );
    // And by the sign on either side.
    let soc = |factor: f64| {
        let (run, _) = run(factor);
        run.end[sim_core::state::HOUSE] - run.start[sim_core::state::HOUSE]
    };
    assert!(soc(0.99 * factor) < 0.0 && soc(1.01 * factor) > 0.0);
}

#[test]
fn what_never_or_always_breaks_even_says_so() {
    let with = |path: &str, value: f64| -> Case { case(DAILY).with(path, value).expect("a key") };
    let huge = break_even(&with("house.load_w", 2000.0), Balance::House).expect("an answer");
    assert!(
        matches!(huge, BreakEven::Never { driving_min_per_day } if driving_min_per_day > 1000.0),
        "{huge:?}"
    );
    let none = break_even(&with("house.load_w", 0.0), Balance::House).expect("an answer");
    assert!(matches!(none, BreakEven::Always { .. }), "{none:?}");
}

/// The border is checked by hand: a trip a tenth shorter leaves the starter battery with less than parking does.
#[test]
fn trips_pay_from_the_length_said() {
    // A weak alternator and a hungry vehicle: what cranking takes is slow to come back.
    let words = [
        "start_stop.signal=required",
        "start_stop.turn_on_v=12.0",
        "start_stop.turn_off_v=11.5",
        "start_stop.turn_on_delay_s=5",
        "vehicle.crank_a=250",
        "vehicle.crank_s=3",
    ];
    let (model, profile) = pattern("road-works", &words);
    let pays = trip_pays(&model, &profile, &summary()).expect("a run").expect("there is a drive");
    let (farrier, weekly) = pattern("farrier", &[]);
    let soon = trip_pays(&farrier, &weekly, &summary()).expect("a run").expect("there is a drive");
    let TripPays::From { trip_s } = soon else { panic!("{soon:?}") };
    assert!(trip_s > 3.0 && trip_s < 60.0, "{trip_s} s");
    assert!(!matches!(pays, TripPays::Always), "{pays:?}");
    // By hand, from rest: the week before the first drive is parked.
    let first = weekly.pieces().iter().find(|p| p.engine_runs()).expect("a drive");
    let parked = weekly.pieces().at(0);
    let end_soc = |trip_s: Option<f64>| {
        let key_off = first.start.plus_s(trip_s.unwrap_or(0.0));
        let mut pieces = vec![Piece { end: first.start, ..parked }];
        if trip_s.is_some() {
            pieces.push(Piece { end: key_off, ..first });
        }
        pieces.push(Piece { start: key_off, end: key_off.plus_s(1800.0), ..parked });
        let drive = Profile::new(pieces, 0.0).expect("a drive");
        simulate(&farrier, &drive, &summary()).expect("a run").end[STARTER]
    };
    let gain = |trip_s: f64| end_soc(Some(trip_s)) - end_soc(None);
    // The unit comes on after half a minute, and what it draws then makes a trip that has just begun to pay a loss again.
    assert!(gain(29.5) > 0.0 && gain(33.0) < 0.0, "{} and {}", gain(29.5), gain(33.0));
    assert!(
        gain(0.9 * trip_s) < 0.0 && gain(1.1 * trip_s) > 0.0,
        "{} and {}",
        gain(0.9 * trip_s),
        gain(1.1 * trip_s)
    );
    assert!(
        trip_pays(&farrier, &weekly.between(weekly.start(), first.start).expect("parked"), &summary())
            == Ok(None)
    );
}

/// The reserve is watched at every start and every midnight of every repeat.
#[test]
fn the_crank_reserve_is_told_when_it_is_passed() {
    let (model, profile) = pattern("lay-up", &["calendar.days=7", "calendar.lay_up.1.days=7"]);
    let out = outlook(&model, &profile, Some(0.6), 10, &summary()).expect("an outlook");
    let (t_s, soc) = out.starter_short.expect("it falls under 60 %");
    // 32 % of 80 Ah at 80 mA are 13.3 days; booked week by week it is seen at the end of the second.
    assert!((t_s / 86_400.0 - 14.0).abs() < 1e-9 && soc < 0.6 && soc > 0.5, "{t_s} {soc}");
    assert_eq!(outlook(&model, &profile, None, 1, &summary()).expect("an outlook").starter_short, None);
}
