//! Thresholds asked against figures of measured cars, and against logs.

mod support;

use sim_cli::Exit;
use std::fmt::Write as _;
use support::{Folder, SMALL, tickover};

#[test]
fn a_pair_is_asked_of_two_measured_cars() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let set = ["--set", "start_stop.turn_on_v=14", "--set", "start_stop.turn_on_delay_s=120"];
    let printed = tickover(&[["measured", &van].as_slice(), &set].concat());
    assert_eq!(printed.exit, Exit::Done, "{printed:?}");
    let text = printed.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for told in [
        "on from 14.00 V held for 120 s",
        "13 % of the time that its engine runs",
        "by their median for 4.5 min",
        "It never comes on in 106 of 129",
        "11 / 9 / 6 % of the time",
        "Its longest stretch there: 20 s; 120 s are asked for. It never comes on.",
        "please cite",
        "measure the vehicle",
    ] {
        assert!(text.contains(told), "{told}: {text}");
    }
}

#[test]
fn a_pair_is_asked_of_logs() {
    let folder = Folder::new();
    let van = folder.write("van.toml", SMALL);
    let log = |warm_v: f64| {
        let mut text = String::from("# a log\ntime_s,engine_rpm,intake_c,volts\n0,0,20,12.4\n");
        for t in 1..=1200 {
            let v = if t < 300 { 14.1 } else { warm_v };
            let _ = writeln!(text, "{t},1500,25,{v}");
        }
        text
    };
    let (cold, hot) =
        (folder.write("cold.csv", log(13.7)), folder.write("hot.csv", log(13.7).replace("14.1", "13.7")));
    let set = ["--set", "start_stop.turn_on_v=14", "--set", "start_stop.turn_on_delay_s=120"];
    let ask = |more: &[&str]| tickover(&[["measured", van.as_str()].as_slice(), more, &set].concat());
    let printed = ask(&[&cold, &hot, "--falls", "0"]);
    assert_eq!(printed.exit, Exit::Done, "{printed:?}");
    assert!(printed.out.contains("it never comes on in 1 of 2"), "{}", printed.out);
    // 1199 s of log, on from the 120th.
    assert!(printed.out.contains("cold.csv") && printed.out.contains(" 90 %"), "{}", printed.out);
    let bad = folder.write("bad.csv", "time_s,speed\n0,1\n");
    let printed = ask(&[&bad]);
    assert!(printed.exit == Exit::WrongInput && printed.err.contains("no column `volts`"), "{printed:?}");
    let bad = folder.write("bad.csv", "time_s,volts\n0,14\n1,x\n");
    assert!(ask(&[&bad]).err.contains("row 3: `x` is no number"));
}
