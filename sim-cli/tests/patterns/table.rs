//! The table of figures, kept between two markers of scenarios/README.md.

use crate::rows::{Ran, Row};
use sim_core::record::days::DayRow;
use sim_core::study::week::Ending;
use sim_core::time::DAY_S;
use std::fmt::Write;

/// Where the table stands.
pub const MARKERS: (&str, &str) = (
    "<!-- figures of patterns/: written by the test `patterns`, TICKOVER_UPDATE=1 renews them -->",
    "<!-- end of the patterns' figures -->",
);

/// What a row answers, in words.
fn answers(ran: &Ran) -> String {
    let days = |t_s: f64| {
        let n = t_s / DAY_S;
        if n < 10.0 { format!("{n:.1} days") } else { format!("{n:.0} days") }
    };
    let house = match ran.outlook.ending {
        Ending::Flat { t_s } => format!("flat after {}", days(t_s)),
        Ending::Full { t_s } => format!("full after {}", days(t_s)),
        Ending::Settles { low_soc, end_soc, .. } => {
            format!("settles between {:.0} and {:.0} %", low_soc * 100.0, end_soc * 100.0)
        }
        Ending::Undecided { end_soc, t_s } => format!("{:.0} % after {}", end_soc * 100.0, days(t_s)),
    };
    let starter = ran
        .outlook
        .starter_short
        .map(|(t_s, _)| format!("; starter under its reserve by day {:.0}", t_s / DAY_S));
    format!("{house}{}", starter.unwrap_or_default())
}

/// The whole table.
pub fn table(rows: &[(&Row, Ran)]) -> String {
    let mut text = String::from(
        "| who, and what is changed | it asks | driving, h/day | unit, Ah/day | loads, Ah/day | house net, Ah/day | Ah per \
         drive-hour | starts/day | most lost to | house low, % | starter, lowest morning, % | going on like this, the house is |\n\
         |---|---|---:|---:|---:|---:|---:|---:|---|---:|---:|---|\n",
    );
    let mut before = "";
    for (row, ran) in rows {
        let h = &ran.headlines;
        // As the balance a day: of the days before the house battery is flat, or of the first.
        let before_flat = ran.days.iter().take_while(|d| d.house_flat_at_s.is_none()).count();
        let paced = &ran.days[..before_flat.max(1)];
        let length: f64 = paced.iter().map(|d| d.days).sum();
        let sum = |f: fn(&DayRow) -> f64| paced.iter().map(f).sum::<f64>() / length;
        let (who, asks) = if row.file == before {
            (format!("… {}", row.change), String::new())
        } else {
            (format!("[{}](patterns/{}.toml)", ran.name, row.file), ran.asks.clone())
        };
        before = row.file;
        let per_hour = h.ah_per_drive_hour.map(|a| format!("{a:.1}")).unwrap_or_default();
        let lost = h.missed_ah.largest().map(|(what, ah)| format!("{what} {ah:.1} Ah")).unwrap_or_default();
        let _ = writeln!(
            text,
            "| {who} | {asks} | {:.2} | {:.1} | {:.1} | {:+.1} | {per_hour} | {:.0} | {lost} | {:.0} | {:.0} | {} |",
            sum(|d| d.driving_h),
            sum(|d| d.unit_output_ah),
            sum(|d| d.house_load_ah),
            h.house_net_ah_per_day + 0.0,
            sum(|d| f64::from(d.came_on)),
            h.house_low_soc * 100.0,
            // Empty is 0, however rounding left it.
            (h.starter_lowest_morning_soc * 100.0).round() + 0.0,
            answers(ran)
        );
        assert!(ran.profile.weekday.is_some(), "{}: a calendar knows its weekdays", row.file);
    }
    text
}
