//! Every row of the fault catalogue shows its tell-tale, and the table of its figures is current.

mod catalogue;
mod judge;
mod reading;
#[path = "../support/readme_table.rs"]
mod readme_table;
mod table;

use catalogue::{Fault, Ran};
use sim_core::explain::{Explanation, Kind};
use sim_core::judge::Weight;

#[test]
fn every_fault_shows_its_tell_tale() {
    let catalogue = catalogue::read();
    let rows: Vec<(&Fault, Ran)> = catalogue.fault.iter().map(|f| (f, catalogue.run(f))).collect();
    let healthy = &rows[0].1;
    let mut problems = Vec::new();
    for (fault, ran) in &rows {
        assert!(!fault.expect.is_empty(), "row {} expects nothing", fault.row);
        for expect in &fault.expect {
            if let Some(what) = judge::unmet(expect, ran, healthy) {
                problems.push(format!("row {} ({}): {what}", fault.row, fault.name));
            }
        }
        assert!(ran.summary.closure.charge < 1e-9, "row {}: {:?}", fault.row, ran.summary.closure);
        assert!(ran.summary.closure.energy < 1e-6, "row {}: {:?}", fault.row, ran.summary.closure);
    }
    let table = table::table(&rows);
    if let Err(e) = readme_table::check(table::MARKERS, &table) {
        problems.push(e);
    }
    assert!(problems.is_empty(), "{}\n{table}", problems.join("\n"));
}

/// What is wrong is what the judge names first.
#[test]
fn every_fault_is_named_first() {
    let catalogue = catalogue::read();
    let mut problems = Vec::new();
    for fault in &catalogue.fault {
        let verdict = catalogue.run(fault).verdict;
        let first = verdict.findings.first().map_or("nothing", |f| f.kind.word());
        if first != fault.finds {
            problems.push(format!("row {}: {first}, wanted {}", fault.row, fault.finds));
        }
        // Only the healthy vehicle has nothing but good to be told of it.
        assert_eq!(verdict.weight() == Weight::Good, fault.row == "0", "row {}: {verdict:?}", fault.row);
    }
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

/// A healthy vehicle breaks an expectation of every other row: each row's expectations say something.
#[test]
fn the_healthy_vehicle_shows_no_fault() {
    let catalogue = catalogue::read();
    let healthy = catalogue.run(&catalogue.fault[0]);
    for fault in &catalogue.fault[1..] {
        let met = fault.expect.iter().all(|e| judge::unmet(e, &healthy, &healthy).is_none());
        assert!(!met, "row {} ({}) does not tell its fault from nothing wrong", fault.row, fault.name);
    }
}

/// What each row's switching is called; rows that are not listed switch as they should.
const CALLED: [(&str, &[Kind]); 17] = [
    ("1", &[Kind::OwnDrop]),
    ("1b", &[Kind::OwnDrop]),
    ("2", &[Kind::OwnDrop]),
    ("3", &[Kind::OwnDrop]),
    ("4b", &[Kind::SetPoint]),
    ("4c, 10 s", &[Kind::SetPoint]),
    ("7", &[Kind::SurfaceCharge]),
    ("9", &[Kind::Sun]),
    ("10", &[Kind::OwnDrop]),
    ("11", &[Kind::WeakSource]),
    ("12", &[Kind::WeakSource]),
    // At 60 A the cable takes its part: a strong source ends it, and so does no cable.
    ("12b", &[Kind::OwnDrop, Kind::WeakSource]),
    ("13", &[Kind::WeakSource]),
    // The invented drive idles before each stop, and at 750 rpm this alternator does not carry the unit.
    ("14", &[Kind::WeakSource]),
    ("14, 60 s", &[Kind::WeakSource]),
    ("17", &[Kind::Protection]),
    ("18", &[Kind::Protection]),
];

#[test]
fn every_row_is_called_by_its_cause() {
    let catalogue = catalogue::read();
    let mut problems = Vec::new();
    for fault in &catalogue.fault {
        let ran = catalogue.run(fault);
        let e = Explanation::new(&ran.run, &ran.model, &ran.profile);
        let listed = CALLED.iter().find(|(row, _)| *row == fault.row).map_or(&[] as &[Kind], |(_, k)| *k);
        let wanted = if fault.row == "25" { &[Kind::OpenCable] } else { listed };
        if e.kinds() != wanted || e.cannot_tell() {
            problems.push(format!("row {}: {:?}, wanted {wanted:?}", fault.row, e.kinds()));
        }
    }
    assert!(problems.is_empty(), "{}", problems.join("\n"));
}

/// A row that changes nothing, or changes what another does, is no row.
#[test]
fn rows_have_names_of_their_own() {
    let catalogue = catalogue::read();
    let mut names: Vec<&str> = catalogue.fault.iter().map(|f| f.row.as_str()).collect();
    assert!(names.len() >= 31 && names[0] == "0");
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), catalogue.fault.len());
    for (n, fault) in catalogue.fault.iter().enumerate() {
        assert!(n == 0 || !fault.set.is_empty(), "row {} changes nothing", fault.row);
        assert!(!catalogue.fault[..n].iter().any(|f| f.set == fault.set), "row {} is another's", fault.row);
    }
}
