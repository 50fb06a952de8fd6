//! Clock times and dates as people write them.

/// Seconds after midnight of "hh:mm" or "hh:mm:ss"; "24:00" is the end of the day.
pub(super) fn clock_s(text: &str) -> Option<f64> {
    let mut parts = text.trim().split(':');
    let mut next = |most: u32| -> Option<u32> {
        let part = parts.next()?;
        let digits = !part.is_empty() && part.len() <= 2 && part.bytes().all(|b| b.is_ascii_digit());
        part.parse().ok().filter(|n| digits && *n <= most)
    };
    let (hours, minutes) = (next(24)?, next(59)?);
    let seconds = if text.matches(':').count() == 2 { next(59)? } else { 0 };
    let at = hours * 3600 + minutes * 60 + seconds;
    (parts.next().is_none() && at <= 86_400).then_some(f64::from(at))
}

/// Month and day of "mm-dd", in a year that has every day.
pub(super) fn month_day(text: &str) -> Option<(i8, i8)> {
    let (month, day) = text.trim().split_once('-')?;
    let (month, day) = (month.parse().ok()?, day.parse().ok()?);
    jiff::civil::Date::new(2024, month, day).ok().map(|_| (month, day))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_times_are_read_and_nothing_else_is() {
        assert_eq!(clock_s("08:30"), Some(30_600.0));
        assert_eq!(clock_s("7:05:09"), Some(25_509.0));
        assert_eq!(clock_s("24:00"), Some(86_400.0));
        for wrong in ["24:01", "8", "8.30", "08:60", "08:30:00:00", "+8:30", "08:3a", "", ":", "8:", "123:00"]
        {
            assert_eq!(clock_s(wrong), None, "{wrong}");
        }
        assert_eq!(month_day("02-29"), Some((2, 29)));
        assert_eq!((month_day("02-30"), month_day("13-01"), month_day("1")), (None, None, None));
    }
}
