//! Days and hours, and which of two comes first.
//!
//! Files state a day, a day with its hour, or a day with its hour and its offset from UTC, and all three stand beside one
//! another. What is asked of them is always "certainly earlier?", and whatever that leaves open counts against the evidence.
//! The order must be transitive all the same, or the newest of several records would depend on which are looked at:
//!
//! - Days come first, as written: an earlier civil day is earlier.
//! - Within one day the hour decides, if both moments state one and both or neither has an offset. A bare day, or an hour
//!   without an offset beside one with, is of the same date.
//! - Two moments with offsets whose instants contradict their days are of the same date; but days two or more apart
//!   decide by themselves, since no two places on Earth differ by more than a day and two hours.
//!
//! Lists are sorted by [`Moment::in_lists`], a total order that agrees with this one, and then by id.

use jiff::ToSpan;
use jiff::civil;

const DAY: i64 = 86_400;

/// A date, or a date with its hour.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moment {
    /// The civil date as written.
    pub date: civil::Date,
    /// The hour as written.
    pub hour: Hour,
    /// As written, RFC 3339.
    pub text: String,
}

/// The hour of a day, as far as it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Hour {
    /// Not at all.
    Unknown,
    /// Seconds since midnight, on whatever clock hung there.
    Local(i64),
    /// Seconds since midnight, and how many seconds that clock was ahead of UTC.
    Offset(i64, i64),
}

impl Moment {
    /// A bare date.
    pub fn day(date: civil::Date) -> Moment {
        Moment { date, hour: Hour::Unknown, text: date.to_string() }
    }

    /// From what TOML holds; none if it is no date, or a day that does not exist.
    pub fn read(written: &toml::value::Datetime) -> Option<Moment> {
        let day = written.date?;
        let (year, month, day) = (i16::try_from(day.year), i8::try_from(day.month), i8::try_from(day.day));
        let date = civil::Date::new(year.ok()?, month.ok()?, day.ok()?).ok()?;
        let seconds = written.time.map(|time| {
            i64::from(time.hour) * 3600 + i64::from(time.minute) * 60 + i64::from(time.second.unwrap_or(0))
        });
        let hour = match (seconds, written.offset) {
            (None, _) => Hour::Unknown,
            (Some(seconds), None) => Hour::Local(seconds),
            (Some(seconds), Some(toml::value::Offset::Z)) => Hour::Offset(seconds, 0),
            (Some(seconds), Some(toml::value::Offset::Custom { minutes })) => {
                Hour::Offset(seconds, i64::from(minutes) * 60)
            }
        };
        Some(Moment { date, hour, text: written.to_string() })
    }

    /// Whether this is certainly earlier than `other`; the comment of the module says when.
    ///
    /// A strict partial order: nothing is before itself, and what is before something that is before a third is before that.
    pub fn before(&self, other: &Moment) -> bool {
        match (self.hour, other.hour) {
            (Hour::Local(mine), Hour::Local(theirs)) => (self.date, mine) < (other.date, theirs),
            (Hour::Offset(mine, ahead), Hour::Offset(theirs, theirs_ahead)) => {
                let days = self.days_to(other);
                days >= 2 || (days >= 0 && mine - ahead < days * DAY + theirs - theirs_ahead)
            }
            _ => self.date < other.date,
        }
    }

    /// Whether this is of an earlier day than `other`, and certainly earlier: for what the same day counts as after.
    pub fn on_a_day_before(&self, other: &Moment) -> bool {
        self.date < other.date && self.before(other)
    }

    /// The key by which lists are sorted: whatever is [`before`](Moment::before) something has the smaller one.
    pub fn in_lists(&self) -> (civil::Date, u8, i64) {
        match self.hour {
            Hour::Unknown => (self.date, 0, 0),
            Hour::Local(seconds) => (self.date, 1, seconds),
            Hour::Offset(seconds, ahead) => (self.date, 2, seconds - ahead),
        }
    }

    /// The civil day on which a length of time that starts now ends, on the same clock; a bare day starts at midnight. None
    /// if that is past the end of the calendar.
    pub fn day_after(&self, seconds: i64) -> Option<civil::Date> {
        let since_midnight = match self.hour {
            Hour::Unknown => 0,
            Hour::Local(own) | Hour::Offset(own, _) => own,
        };
        let days = since_midnight.checked_add(seconds)?.div_euclid(DAY);
        let days = i32::try_from(days).ok().filter(|days| days.unsigned_abs() < 7_000_000)?;
        self.date.checked_add(days.days()).ok()
    }

    /// How many days `other` is later than this.
    fn days_to(&self, other: &Moment) -> i64 {
        self.date.until(other.date).map_or(0, |span| i64::from(span.get_days()))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn moment(text: &str) -> Moment {
        Moment::read(&text.parse().expect(text)).expect(text)
    }

    #[test]
    fn days_come_first_then_hours_that_can_be_compared() {
        for (early, late) in [
            ("2026-03-01", "2026-03-02"),
            ("2026-03-01T23:59:00", "2026-03-02"),
            ("2026-03-01", "2026-03-02T00:00:00+02:00"),
            ("2026-03-01T09:00:00", "2026-03-01T09:00:01"),
            ("2026-03-01T09:00:00+02:00", "2026-03-01T08:00:00Z"),
            ("2026-03-01T20:00:00-06:00", "2026-03-02T09:00:00-06:00"),
            // Kiribati's islands and the last place to see the day end are 26 hours apart.
            ("2026-03-01T23:00:00-12:00", "2026-03-03T00:30:00+14:00"),
        ] {
            assert!(moment(early).before(&moment(late)), "{early} before {late}");
            assert!(!moment(late).before(&moment(early)), "{late} before {early}");
        }
    }

    #[test]
    fn what_cannot_be_told_is_of_the_same_date() {
        for (one, other) in [
            ("2026-03-01", "2026-03-01T09:00:00"),
            ("2026-03-01T09:00:00", "2026-03-01T14:00:00Z"),
            ("2026-03-01T09:00:00Z", "2026-03-01T11:00:00+02:00"),
            // Later by its day, earlier by its instant.
            ("2026-03-01T20:00:00Z", "2026-03-02T01:00:00+09:00"),
        ] {
            let (one, other) = (moment(one), moment(other));
            assert!(!one.before(&other) && !other.before(&one), "{one:?} and {other:?}");
        }
    }

    #[test]
    fn a_length_of_time_ends_on_the_same_clock() {
        for (start, seconds, end) in [
            ("2026-03-01", 30 * DAY, "2026-03-31"),
            ("2026-03-01", 36 * 3600, "2026-03-02"),
            ("2026-03-01T20:00:00-06:00", 30 * DAY, "2026-03-31"),
            ("2026-03-01T20:00:00", 5 * 3600, "2026-03-02"),
            ("2026-03-01", -1, "2026-02-28"),
        ] {
            assert_eq!(moment(start).day_after(seconds), Some(end.parse().unwrap()), "{start} and {seconds} s");
        }
        assert_eq!(moment("2026-03-01").day_after(i64::MAX), None);
        assert_eq!(moment("9999-12-31").day_after(DAY), None);
    }

    prop_compose! {
        /// Moments of four days, so that most are near one another; the offsets are those that TOML allows.
        fn any_moment()(day in 1i8..5, hour in 0i64..24, minute in 0i64..60, ahead in -1439i64..1440, sort in 0u8..4) -> Moment {
            let seconds = hour * 3600 + minute * 60;
            let hour = match sort {
                0 => Hour::Unknown,
                1 => Hour::Local(seconds),
                // Whole hours meet more often.
                2 => Hour::Offset(seconds, ahead / 60 * 3600),
                _ => Hour::Offset(seconds, ahead * 60),
            };
            Moment { date: civil::date(2026, 3, day), hour, text: String::new() }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(20_000))]

        #[test]
        fn before_is_a_strict_order(a in any_moment(), b in any_moment(), c in any_moment()) {
            prop_assert!(!a.before(&a));
            prop_assert!(!(a.before(&b) && b.before(&a)));
            if a.before(&b) && b.before(&c) {
                prop_assert!(a.before(&c));
            }
        }

        #[test]
        fn lists_agree_with_it(a in any_moment(), b in any_moment()) {
            if a.before(&b) {
                prop_assert!(a.in_lists() < b.in_lists());
            }
        }

        #[test]
        fn an_earlier_day_is_never_of_the_same_day(a in any_moment(), b in any_moment()) {
            prop_assert_eq!(a.on_a_day_before(&b), a.before(&b) && a.date != b.date);
        }

        /// Whatever moments there are, at least one has nothing after it: something always decides.
        #[test]
        fn there_is_always_a_newest(moments in prop::collection::vec(any_moment(), 1..8)) {
            let newest = moments.iter().filter(|one| !moments.iter().any(|other| one.before(other)));
            prop_assert!(newest.count() > 0);
        }
    }
}
