//! The wall clock, for provenance only.

use std::time::{SystemTime, UNIX_EPOCH};

/// Now, as UTC in the form of RFC 3339 to the second.
pub fn now() -> String {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    rfc3339(since)
}

fn rfc3339(seconds: u64) -> String {
    let (day, second) = (seconds / 86_400, seconds % 86_400);
    let (year, month, date) = civil(day);
    let (hour, minute, second) = (second / 3600, second / 60 % 60, second % 60);
    format!("{year:04}-{month:02}-{date:02}T{hour:02}:{minute:02}:{second:02}Z")
}

/// Days since 1970-01-01 as year, month, day of the Gregorian calendar, whose rules repeat every 400 years
/// (146,097 days); years are counted from March so that the leap day comes last.
fn civil(days: u64) -> (u64, u64, u64) {
    let from_march_0 = days + 719_468;
    let (era, day_of_era) = (from_march_0 / 146_097, from_march_0 % 146_097);
    let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let date = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    (400 * era + year_of_era + u64::from(month <= 2), month, date)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checked against `date -u -d @N` of GNU coreutils.
    #[test]
    fn reference_dates() {
        assert_eq!(rfc3339(0), "1970-01-01T00:00:00Z");
        assert_eq!(rfc3339(951_782_399), "2000-02-28T23:59:59Z");
        assert_eq!(rfc3339(951_782_400), "2000-02-29T00:00:00Z");
        assert_eq!(rfc3339(4_107_542_400), "2100-03-01T00:00:00Z");
        assert_eq!(rfc3339(1_798_761_599), "2026-12-31T23:59:59Z");
    }
}
