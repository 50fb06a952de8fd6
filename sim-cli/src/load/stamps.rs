//! Wall-clock stamps of logs: with their own offset, or in a zone that the scenario states. None is guessed.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};
use sim_core::resolve::Stamp;

/// Reads the stamps of one file.
pub struct Stamps {
    zone: Option<TimeZone>,
    first: Option<Timestamp>,
    last: Option<Timestamp>,
    /// How far the clock is ahead of UTC at the first stamp, s.
    offset_s: Option<f64>,
    /// The first stamp behind a change of the clock, as it stands in the file.
    pub changed: Option<String>,
    /// Clock and date of the first one.
    pub start: Option<Stamp>,
}

impl Stamps {
    /// With the zone that the scenario states, if it does.
    pub fn new(zone: Option<&str>) -> Result<Stamps, String> {
        let zone = zone.map(zone_of).transpose()?;
        Ok(Stamps { zone, first: None, last: None, offset_s: None, changed: None, start: None })
    }

    /// Seconds since the first stamp.
    pub fn seconds(&mut self, text: &str) -> Result<f64, String> {
        let (at, local) = self.read(text)?;
        let first = *self.first.get_or_insert(at);
        self.last = Some(at);
        // In nanoseconds: whole seconds would be cut towards 1970 from both sides.
        let utc_offset_s = local
            .to_zoned(TimeZone::UTC)
            .map_or(0.0, |as_utc| (as_utc.timestamp().as_nanosecond() - at.as_nanosecond()) as f64 / 1e9);
        if *self.offset_s.get_or_insert(utc_offset_s) != utc_offset_s {
            self.changed.get_or_insert_with(|| text.to_owned());
        }
        self.start.get_or_insert_with(|| {
            let time = local.time();
            let whole =
                i32::from(time.hour()) * 3600 + i32::from(time.minute()) * 60 + i32::from(time.second());
            Stamp {
                clock_s: f64::from(whole) + f64::from(time.subsec_nanosecond()) * 1e-9,
                date: local.date(),
                unix_s: at.as_nanosecond() as f64 / 1e9,
                utc_offset_s,
            }
        });
        Ok((at.as_nanosecond() - first.as_nanosecond()) as f64 / 1e9)
    }

    fn read(&self, text: &str) -> Result<(Timestamp, DateTime), String> {
        if let Ok(at) = text.parse::<Timestamp>() {
            // It carries its offset; the clock on the wall is that of the stated zone, else its own.
            let local = match &self.zone {
                Some(zone) => at.to_zoned(zone.clone()).datetime(),
                None => text.parse::<DateTime>().unwrap_or_else(|_| at.to_zoned(TimeZone::UTC).datetime()),
            };
            return Ok((at, local));
        }
        let local: DateTime = text.parse().map_err(|_| {
            format!("stamp is `{text}`, which is no date and time; write it like 2026-03-02T07:59:30+01:00")
        })?;
        let zone = self.zone.as_ref().ok_or_else(|| {
            "the stamps carry no zone: state it where the file is named, `zone = \"Europe/Berlin\"` or \"+01:00\"".to_owned()
        })?;
        let read = zone.to_ambiguous_timestamp(local);
        let at = match read.offset() {
            AmbiguousOffset::Gap { .. } => {
                return Err(format!(
                    "stamp is `{text}`, a time that the clock of this zone passes over when it is put forward; if the \
                     logger's clock is never changed, state its offset as zone, such as \"+01:00\""
                ));
            }
            // An hour that comes twice: what follows on the row before it is the first, or else the second.
            AmbiguousOffset::Fold { .. } => read
                .earlier()
                .and_then(|at| if self.last.is_some_and(|last| at < last) { read.later() } else { Ok(at) }),
            AmbiguousOffset::Unambiguous { .. } => read.unambiguous(),
        };
        Ok((at.map_err(|e| e.to_string())?, local))
    }
}

/// A place name of the time-zone database, "UTC", or an offset such as "+01:00".
fn zone_of(text: &str) -> Result<TimeZone, String> {
    let wrong = || {
        format!(
            "`{text}` is no zone: write a place name of the time-zone database, such as \"Europe/Berlin\", or an offset, \
             such as \"+01:00\""
        )
    };
    let offset = |sign: i32, rest: &str| -> Option<TimeZone> {
        let (hours, minutes) = rest.split_once(':')?;
        let two = |s: &str| (s.len() == 2).then(|| s.parse::<i32>().ok()).flatten();
        let (hours, minutes) = (two(hours)?, two(minutes)?);
        let seconds = (hours <= 14 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))?;
        Offset::from_seconds(seconds).ok().map(TimeZone::fixed)
    };
    match text.trim() {
        "UTC" => Ok(TimeZone::UTC),
        t if t.starts_with('+') => offset(1, &t[1..]).ok_or_else(wrong),
        t if t.starts_with('-') => offset(-1, &t[1..]).ok_or_else(wrong),
        t => TimeZone::get(t).map_err(|_| wrong()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stamps_with_an_offset_need_no_zone_and_others_do() {
        let mut own = Stamps::new(None).expect("no zone");
        assert_eq!(own.seconds("2026-03-02T07:59:30+01:00"), Ok(0.0));
        assert_eq!(own.seconds("2026-03-02T07:00:00Z"), Ok(30.0));
        assert_eq!(own.start.expect("a start").clock_s, 7.0 * 3600.0 + 59.0 * 60.0 + 30.0);
        let bare = Stamps::new(None).expect("no zone").seconds("2026-03-02 07:59:30");
        assert!(bare.expect_err("no zone").contains("state it where the file is named"));
        let mut berlin = Stamps::new(Some("Europe/Berlin")).expect("a place");
        assert_eq!(berlin.seconds("2026-03-29 01:59:59"), Ok(0.0));
        assert_eq!(berlin.changed, None);
        assert_eq!(berlin.seconds("2026-03-29 03:00:00"), Ok(1.0), "the hour that is left out in spring");
        assert_eq!(berlin.changed.as_deref(), Some("2026-03-29 03:00:00"));
        let left_out = berlin.seconds("2026-03-29 02:30:00").expect_err("no such time");
        assert!(left_out.contains("passes over") && left_out.contains("\"+01:00\""), "{left_out}");
        assert_eq!(
            berlin.seconds("2026-10-25 02:30:00"),
            Ok(210.0 * 86_400.0 - 1799.0),
            "the first of the two"
        );
        assert_eq!(berlin.seconds("2026-10-25 02:59:59"), Ok(210.0 * 86_400.0));
        assert_eq!(berlin.seconds("2026-10-25 02:00:00"), Ok(210.0 * 86_400.0 + 1.0), "the hour again");
        assert_eq!(berlin.seconds("2026-10-25 02:59:59"), Ok(210.0 * 86_400.0 + 3600.0));
        let mut again = Stamps::new(Some("Europe/Berlin")).expect("a place");
        let twice = ["02:29:00", "02:29:00", "02:30:00"].map(|t| again.seconds(&format!("2026-10-25 {t}")));
        assert_eq!(twice, [Ok(0.0), Ok(0.0), Ok(60.0)], "a row that is repeated is no second hour");
        let own = |text: &[&str]| {
            let mut own = Stamps::new(None).expect("no zone");
            text.iter().for_each(|t| assert!(own.seconds(t).is_ok(), "{t}"));
            own.changed
        };
        assert!(own(&["2026-03-29T01:59:59+01:00", "2026-03-29T03:00:00+02:00"]).is_some());
        assert_eq!(own(&["2026-03-29T01:59:59+01:00", "2026-03-29T02:00:00+01:00"]), None);
        assert_eq!(own(&["1970-01-01T00:00:00.5+01:00", "1970-01-01T01:00:00.5+01:00"]), None);
    }

    #[test]
    fn a_wrong_zone_says_what_is_allowed() {
        for wrong in ["Europe/Nowhere", "+1", "+25:00", "-ab:cd", ""] {
            assert!(Stamps::new(Some(wrong)).is_err_and(|e| e.contains("is no zone")), "{wrong}");
        }
        assert!(Stamps::new(Some("-03:30")).is_ok() && Stamps::new(Some("UTC")).is_ok());
    }
}
