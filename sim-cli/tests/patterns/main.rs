//! The drive patterns show in kind what they are there for, their ledgers close, and the table of their figures is current.

#[path = "../support/readme_table.rs"]
mod readme_table;
mod rows;
mod table;

use rows::{ROWS, Ran, run};

fn find(file: &str, change: &str) -> Ran {
    let row = ROWS.iter().find(|r| r.file == file && r.change == change);
    run(row.unwrap_or_else(|| panic!("{file}, {change}: no such row")))
}

#[test]
fn the_table_of_patterns_is_current_and_every_ledger_closes() {
    let rows: Vec<_> = ROWS.iter().map(|r| (r, run(r))).collect();
    let mut problems = Vec::new();
    for (row, ran) in &rows {
        let c = ran.summary.closure;
        // Laid up, the house battery's self-discharge is the largest term there is, and the default tolerance is what it
        // closes to; each figure is what was reached, rounded up.
        let (charge, energy) = if row.file == "lay-up" { (1e-7, 2e-6) } else { (1e-9, 1e-7) };
        if c.charge > charge || c.energy > energy {
            problems.push(format!("{} {}: balances close to {c:?} only", row.file, row.change));
        }
        // What a day says adds up to what the run says.
        let net: f64 = ran.days.iter().map(|d| d.house_net_ah).sum();
        let apart = (net - ran.summary.house_gain_ah).abs();
        if apart > 1e-6 {
            problems.push(format!("{} {}: days and run are {apart} Ah apart", row.file, row.change));
        }
        let (could, got): (f64, f64) = ran.days.iter().fold((0.0, 0.0), |(c, g), d| {
            (c + d.could_ah, g + d.missed_ah.total_ah() + d.ah_per_drive_hour.unwrap_or(0.0) * d.driving_h)
        });
        if (could - got).abs() > 1e-4 * could.max(1.0) {
            problems.push(format!("{} {}: {got} Ah of {could} Ah are accounted for", row.file, row.change));
        }
    }
    let table = table::table(&rows);
    if let Err(e) = readme_table::check(table::MARKERS, &table) {
        problems.push(e);
    }
    assert!(problems.is_empty(), "{}\n{table}", problems.join("\n"));
}

/// Asking more than the alternator gives delivers less: common practice, no source.
#[test]
fn the_canal_boat_gets_more_from_a_smaller_unit() {
    let (large, middle, small) =
        (find("canal-boat", ""), find("canal-boat", "40 A unit"), find("canal-boat", "30 A unit"));
    let ah = |r: &Ran| r.summary.unit_output_ah;
    assert!(
        large.summary.dropped_out_driving > 100,
        "60 A hunts all cruise: {}",
        large.summary.dropped_out_driving
    );
    assert!(
        ah(&small) > ah(&middle) && ah(&middle) > ah(&large),
        "{} {} {}",
        ah(&small),
        ah(&middle),
        ah(&large)
    );
    // Four hours at 30 A, less the turn-on delay.
    assert!(ah(&small) > 119.0 && ah(&small) < 120.1, "{}", ah(&small));
    assert!(small.summary.came_on <= 2, "30 A is steady: {} starts", small.summary.came_on);
}

/// A delay longer than each engine run delivers nothing: closed form, output limit times what each run leaves over.
#[test]
fn a_delay_longer_than_each_engine_run_delivers_nothing() {
    let (short, long) = (find("school-run", ""), find("school-run", "turn-on delay 90 s"));
    assert_eq!((long.summary.came_on, long.summary.unit_output_ah), (0, 0.0));
    assert_eq!(short.summary.came_on, 24 * 5, "one start an engine run");
    // 25 A for what is left of 85 s: less 0.8 s of cranking, 30 s of delay and the rise to turn-on, half of the 2 s soft
    // start; plus the 2 s of turn-off delay and what it takes to fall there.
    let each_s = short.summary.unit_output_ah * 3600.0 / 25.0 / 120.0;
    let plain_s = 85.0 - 0.8 - 30.0 - 1.0;
    assert!(
        each_s > plain_s - 3.0 && each_s < plain_s + 4.0,
        "{each_s} s of full current a run, {plain_s} by hand"
    );
}

/// A higher idle cures what too much asked at idle makes: common practice, no source.
#[test]
fn a_higher_idle_cures_the_road_works_van() {
    let as_it_is = find("road-works", "");
    let smaller = find("road-works", "20 A unit");
    let faster = find("road-works", "20 A unit at 1200 rpm");
    let large = find("road-works", "40 A unit at 1200 rpm");
    for hunts in [&as_it_is, &smaller, &large] {
        assert!(hunts.summary.dropped_out_driving > 100, "{} drop-outs", hunts.summary.dropped_out_driving);
    }
    assert_eq!((faster.summary.came_on, faster.summary.dropped_out_driving), (1, 0));
    // Six hours at 20 A, less the turn-on delay.
    let ah = faster.summary.unit_output_ah;
    assert!(ah > 119.0 && ah < 120.1, "{ah} Ah");
    assert!(ah > 3.0 * as_it_is.summary.unit_output_ah.max(smaller.summary.unit_output_ah));
}
