//! Clock times and durations as people write them.

/// The clock time `t_s` seconds into a run that starts `start_s` seconds after midnight; later days are named.
pub fn clock(start_s: f64, t_s: f64) -> String {
    let at = (start_s + t_s).round() as i64;
    let (day, s) = (at.div_euclid(86_400), at.rem_euclid(86_400));
    let time = format!("{:02}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60);
    if day == 0 { time } else { format!("day {} {time}", day + 1) }
}

/// A duration in its two largest units.
pub fn duration(s: f64) -> String {
    let whole = s.round() as i64;
    if s < 10.0 && (s - s.round()).abs() > 0.05 {
        format!("{s:.1} s")
    } else if whole < 120 {
        format!("{whole} s")
    } else if whole < 3600 {
        match whole % 60 {
            0 => format!("{} min", whole / 60),
            rest => format!("{} min {rest} s", whole / 60),
        }
    } else if whole < 2 * 86_400 {
        let minutes = (whole + 30) / 60;
        match minutes % 60 {
            0 => format!("{} h", minutes / 60),
            rest => format!("{} h {rest} min", minutes / 60),
        }
    } else {
        let hours = (whole + 1800) / 3600;
        match hours % 24 {
            0 => format!("{} days", hours / 24),
            rest => format!("{} days {rest} h", hours / 24),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_read_as_people_write_them() {
        assert_eq!(clock(8.0 * 3600.0, 143.59), "08:02:24");
        assert_eq!(clock(23.0 * 3600.0, 7200.0), "day 2 01:00:00");
        assert_eq!(duration(2.0), "2 s");
        assert_eq!(duration(0.8), "0.8 s");
        assert_eq!(duration(2700.0), "45 min");
        assert_eq!(duration(6360.0), "1 h 46 min");
        assert_eq!(duration(604_800.0), "7 days");
    }
}
