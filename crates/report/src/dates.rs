//! Dates as people write them, in the time of the place.

use jiff::civil::{DateTime, Time};
use jiff::{Span, Timestamp, tz};

/// How many seconds the clocks of the place are before UTC, at a time given in
/// UTC in milliseconds since 1970; negative where they are behind.
pub type Offset<'a> = &'a dyn Fn(i64) -> i32;

/// A day and a time of day, to the minute.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date(DateTime);

impl Date {
    /// The date at a time in UTC, in milliseconds since 1970. What is beyond the
    /// years -9999 to 9999 is at their end.
    pub fn at(unix_ms: i64, offset: Offset<'_>) -> Date {
        let seconds = unix_ms.div_euclid(1000) + i64::from(offset(unix_ms));
        let minute = seconds.div_euclid(60) * 60;
        let there = minute.clamp(Timestamp::MIN.as_second(), Timestamp::MAX.as_second());
        let there = Timestamp::from_second(there).unwrap_or_default();
        Date(tz::Offset::UTC.to_datetime(there))
    }

    fn written(self, how: &str) -> String {
        self.0.strftime(how).to_string()
    }

    /// `13 October 2026`.
    pub fn long(self) -> String {
        self.written("%-d %B %Y")
    }

    /// `Tue 13 Oct`.
    pub fn short(self) -> String {
        self.written("%a %-d %b")
    }

    /// `13 Oct, 18:00`.
    pub fn short_time(self) -> String {
        self.written("%-d %b, %H:%M")
    }

    /// `2026-10-13` (ISO 8601).
    pub fn iso(self) -> String {
        self.written("%Y-%m-%d")
    }

    /// `18:00`.
    pub fn time(self) -> String {
        self.written("%H:%M")
    }

    /// The Monday it follows or is.
    #[must_use]
    pub fn monday(self) -> Date {
        let day = self.0.date();
        let since = Span::new().days(day.weekday().to_monday_zero_offset());
        Date(day.saturating_sub(since).to_datetime(Time::midnight()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utc(unix_ms: i64) -> Date {
        Date::at(unix_ms, &|_| 0)
    }

    /// Unix time against ISO dates as GNU `date -u -d @N` gives them.
    #[test]
    fn dates_of_unix_time() {
        for (seconds, iso, time, short) in [
            (0, "1970-01-01", "00:00", "Thu 1 Jan"),
            (951_782_400, "2000-02-29", "00:00", "Tue 29 Feb"),
            (1_791_914_400, "2026-10-13", "18:00", "Tue 13 Oct"),
            (4_107_542_399, "2100-02-28", "23:59", "Sun 28 Feb"),
            (4_107_542_400, "2100-03-01", "00:00", "Mon 1 Mar"),
            (-1, "1969-12-31", "23:59", "Wed 31 Dec"),
        ] {
            let date = utc(seconds * 1000);
            assert_eq!((date.iso(), date.time()), (iso.into(), time.into()));
            assert_eq!(date.short(), short);
        }
    }

    #[test]
    fn the_day_is_that_of_the_place() {
        let late = 1_791_914_400_000 + 5 * 3_600_000;
        assert_eq!(utc(late).long(), "13 October 2026");
        assert_eq!(Date::at(late, &|_| 7200).long(), "14 October 2026");
        assert_eq!(utc(late).monday().iso(), "2026-10-12");
        let monday = utc(late).monday();
        assert_eq!(monday.monday(), monday);
    }
}
