//! Dates as people write them, in the time of the place.

/// How many seconds the clocks of the place are before UTC, at a time given in
/// UTC in milliseconds since 1970; negative where they are behind.
pub type Offset<'a> = &'a dyn Fn(i64) -> i32;

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
const DAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

/// A day and a time of day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Date {
    /// Days since 1 January 1970.
    days: i64,
    /// Minutes since midnight.
    minutes: i64,
}

impl Date {
    /// The date at a time in UTC, in milliseconds since 1970.
    pub fn at(unix_ms: i64, offset: Offset<'_>) -> Date {
        let seconds = unix_ms.div_euclid(1000) + i64::from(offset(unix_ms));
        Date {
            days: seconds.div_euclid(86_400),
            minutes: seconds.rem_euclid(86_400) / 60,
        }
    }

    /// Year, month and day of the Gregorian calendar: the number of a day
    /// counted in eras of 400 years that begin in March, from which the leap
    /// day is the last.
    fn civil(self) -> (i64, i64, i64) {
        let days = self.days + 719_468;
        let (era, of_era) = (days.div_euclid(146_097), days.rem_euclid(146_097));
        let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year + year / 4 - year / 100);
        let from_march = (5 * of_year + 2) / 153;
        let day = of_year - (153 * from_march + 2) / 5 + 1;
        let month = (from_march + 2) % 12 + 1;
        (year + era * 400 + i64::from(month <= 2), month, day)
    }

    fn month(month: i64) -> &'static str {
        usize::try_from(month - 1)
            .ok()
            .and_then(|m| MONTHS.get(m))
            .copied()
            .unwrap_or_default()
    }

    /// `13 October 2026`.
    pub fn long(self) -> String {
        let (year, month, day) = self.civil();
        format!("{day} {} {year}", Self::month(month))
    }

    /// `Tue 13 Oct`.
    pub fn short(self) -> String {
        let (_, month, day) = self.civil();
        let weekday = DAYS[(self.days + 3).rem_euclid(7) as usize];
        format!("{weekday} {day} {}", &Self::month(month)[..3])
    }

    /// `2026-10-13` (ISO 8601).
    pub fn iso(self) -> String {
        let (year, month, day) = self.civil();
        format!("{year:04}-{month:02}-{day:02}")
    }

    /// `18:00`.
    pub fn time(self) -> String {
        format!("{:02}:{:02}", self.minutes / 60, self.minutes % 60)
    }

    /// The Monday it follows or is.
    #[must_use]
    pub fn monday(self) -> Date {
        Date {
            days: self.days - (self.days + 3).rem_euclid(7),
            minutes: 0,
        }
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
