//! Two hundred vehicles with one cause each (fewer in a debug build): is it called by its name?
//!
//! Seeds are fresh in every run and printed; `TICKOVER_SEED=<number>` repeats one. The table is printed with
//! `cargo test --release -p sim-tests --test confusion -- --nocapture`.

mod remedies;

use sim_core::explain::{Explanation, Kind};
use sim_tests::dice::Dice;
use sim_tests::faulty::{Case, Fault, draw};
use std::collections::BTreeMap;
use std::time::{SystemTime, UNIX_EPOCH};

/// Vehicles: two hundred in a release build, two of each fault in a debug build.
const VEHICLES: usize = if cfg!(debug_assertions) { 36 } else { 200 };
/// Share that must be named rightly.
const RIGHT: f64 = 0.95;

/// What was said of a vehicle.
fn said(case: &Case) -> (Vec<Kind>, bool) {
    let e = Explanation::new(&case.run, &case.model, &case.profile);
    (e.kinds(), e.cannot_tell())
}

fn name(kinds: &[Kind], cannot_tell: bool) -> String {
    let mut words: Vec<String> = kinds.iter().map(|k| format!("{k:?}")).collect();
    words.sort();
    if cannot_tell {
        words.push("cannot tell".into());
    }
    if words.is_empty() { "nothing".into() } else { words.join(" + ") }
}

#[test]
fn one_cause_is_called_by_its_name() {
    let fresh =
        || SystemTime::now().duration_since(UNIX_EPOCH).map_or(1, |d| d.as_nanos() as u64 % 1_000_000_007);
    let seed = std::env::var("TICKOVER_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or_else(fresh);
    println!("TICKOVER_SEED={seed}");
    let cases: Vec<usize> = (0..VEHICLES).collect();
    let mut rows: Vec<(usize, Fault, f64, String, String, bool)> = Vec::new();
    std::thread::scope(|scope| {
        let halves = cases.chunks(VEHICLES.div_ceil(2)).map(|half| {
            scope.spawn(move || {
                half.iter()
                    .map(|&n| {
                        let mut dice = Dice::new(seed.wrapping_mul(1_000_003).wrapping_add(n as u64));
                        let case = draw(&mut dice, Fault::ALL[n % Fault::ALL.len()]);
                        let (kinds, cannot_tell) = said(&case);
                        // A wrong name is one that was not put in; to say less is no wrong name. Just short of its critical
                        // size a fault's own name is not the best one where starting up ends it, but it is what was put in.
                        let put_in = |k: &Kind| *k == case.fault.kind() || case.label.contains(k);
                        let wrong = !kinds.iter().all(put_in);
                        if wrong {
                            let e = Explanation::new(&case.run, &case.model, &case.profile);
                            for s in &e.stories {
                                println!(
                                    "vehicle {n}: {} times, {:.0} to {:.0} s, {:?}",
                                    s.times,
                                    s.from.as_s(),
                                    s.to.as_s(),
                                    s.ended
                                );
                            }
                        }
                        let must_be = name(&case.label, false);
                        (n, case.fault, case.share, must_be, name(&kinds, cannot_tell), wrong)
                    })
                    .collect::<Vec<_>>()
            })
        });
        let handles: Vec<_> = halves.collect();
        for h in handles {
            rows.extend(h.join().expect("a half of the vehicles"));
        }
    });
    let mut table: BTreeMap<(Fault, String, String), usize> = BTreeMap::new();
    for (_, fault, _, label, told, _) in &rows {
        *table.entry((*fault, label.clone(), told.clone())).or_default() += 1;
    }
    println!("{:<16}{:<16}{:<40}{:>4}", "put in", "must be", "was called", "n");
    for ((fault, label, told), n) in &table {
        let mark = if label == told { "" } else { "  <--" };
        println!("{:<16}{label:<16}{told:<40}{n:>4}{mark}", format!("{fault:?}"));
    }
    for (n, fault, share, label, told, _) in rows.iter().filter(|r| r.3 != r.4) {
        println!("vehicle {n}: {fault:?} at {share:.3} of critical must be {label}, was called {told}");
    }
    let right = rows.iter().filter(|r| r.3 == r.4).count();
    let wrong = rows.iter().filter(|r| r.5).count();
    println!("{right} of {VEHICLES} named rightly, {wrong} called by a wrong name (seed {seed})");
    assert!(right as f64 >= RIGHT * VEHICLES as f64, "{right} of {VEHICLES} with seed {seed}");
    assert_eq!(wrong, 0, "wrong names with seed {seed}");
}
