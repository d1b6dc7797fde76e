//! The wall clock, for provenance only.

use jiff::Timestamp;

/// Now, as UTC in the form of RFC 3339 to the second.
pub fn now() -> String {
    rfc3339(Timestamp::now())
}

/// What is left of a second is dropped, as the seconds of a clock are read.
fn rfc3339(instant: Timestamp) -> String {
    instant.strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Checked against `date -u -d @N` of GNU coreutils.
    #[test]
    fn reference_dates() {
        for (seconds, written) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_399, "2000-02-28T23:59:59Z"),
            (951_782_400, "2000-02-29T00:00:00Z"),
            (4_107_542_400, "2100-03-01T00:00:00Z"),
            (1_798_761_599, "2026-12-31T23:59:59Z"),
        ] {
            for fraction in [0, 999_999_999] {
                let instant = Timestamp::new(seconds, fraction).expect("a time of this calendar");
                assert_eq!(rfc3339(instant), written);
            }
        }
    }
}
