//! The date that stands on a document.

use std::time::{SystemTime, UNIX_EPOCH};

/// Today's date in universal time, or that of SOURCE_DATE_EPOCH, which makes a document the same
/// byte by byte whenever it is made (reproducible-builds.org specification).
pub fn today() -> String {
    let fixed = std::env::var("SOURCE_DATE_EPOCH").ok().and_then(|t| t.trim().parse::<u64>().ok());
    let seconds = fixed.unwrap_or_else(|| {
        SystemTime::now().duration_since(UNIX_EPOCH).map(|d| d.as_secs()).unwrap_or(0)
    });
    date((seconds / 86_400).min(MOST_DAYS) as i64)
}

/// Day number of 31 December 9999; later dates need five digits.
const MOST_DAYS: u64 = 2_932_896;

/// Date of a day counted from 1 January 1970, Gregorian.
fn date(days: i64) -> String {
    // Years are counted from March, so that the leap day comes last; an era is 400 years.
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let day_of_era = z.rem_euclid(146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::date;

    #[test]
    fn dates_of_the_calendar() {
        // Leap day of a year divisible by 400, the day after, and both ends.
        assert_eq!(date(0), "1970-01-01");
        assert_eq!(date(11_016), "2000-02-29");
        assert_eq!(date(11_017), "2000-03-01");
        assert_eq!(date(20_782), "2026-11-25");
        assert_eq!(date(2_932_896), "9999-12-31");
    }
}
