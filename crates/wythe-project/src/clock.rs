//! Moments as people and computers write them: `2031-04-02 18:30:05`, with `+02:00` behind where
//! the distance from universal time is known.

/// A moment of the calendar and the clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Seconds from 1970-01-01 00:00:00 as the clock on the wall shows it.
    shown: f64,
    /// How far that clock is ahead of universal time, s, where it is written.
    ahead: Option<f64>,
}

impl Moment {
    /// Reads a moment. Seconds are needed, since a minute is a long time in a recording.
    pub fn parse(text: &str) -> Option<Moment> {
        let text = text.trim();
        let (date, rest) = text.split_once([' ', 'T'])?;
        let date: Vec<&str> = date.split('-').collect();
        let [year, month, day] = date[..] else { return None };
        let (year, month, day) = (whole(year, 4)?, whole(month, 2)?, whole(day, 2)?);
        if !(1..=12).contains(&month) || !(1..=days_in(year, month)).contains(&day) {
            return None;
        }
        let rest = rest.trim();
        let (time, ahead) = match rest.find(['+', '-', 'Z']) {
            Some(at) => (rest[..at].trim(), Some(ahead(&rest[at..])?)),
            None => (rest, None),
        };
        let parts: Vec<&str> = time.split(':').collect();
        let [h, m, s] = parts[..] else { return None };
        let (h, m) = (whole(h, 2)?, whole(m, 2)?);
        let (s, part) = s.split_once('.').map_or((s, ""), |(s, p)| (s, p));
        let s = whole(s, 2)?;
        if h > 23 || m > 59 || s > 59 || part.len() > 6 {
            return None;
        }
        let part = match part {
            "" => 0.0,
            p if p.bytes().all(|b| b.is_ascii_digit()) => format!("0.{p}").parse().ok()?,
            _ => return None,
        };
        let days = days_since_1970(year, month, day) as f64;
        Some(Moment { shown: days * 86_400.0 + (h * 3600 + m * 60 + s) as f64 + part, ahead })
    }

    /// Seconds from another moment to this one. Where either does not say how far its clock is
    /// from universal time, both are taken for the same clock.
    pub fn since(self, other: Moment) -> f64 {
        match (self.ahead, other.ahead) {
            (Some(a), Some(b)) => (self.shown - a) - (other.shown - b),
            _ => self.shown - other.shown,
        }
    }
}

fn whole(text: &str, digits: usize) -> Option<i64> {
    let plain = text.len() == digits && text.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

fn ahead(text: &str) -> Option<f64> {
    if text == "Z" {
        return Some(0.0);
    }
    let sign = if text.starts_with('-') { -1.0 } else { 1.0 };
    let (h, m) = text[1..].split_once(':')?;
    let (h, m) = (whole(h, 2)?, whole(m, 2)?);
    (h <= 14 && m <= 59).then(|| sign * (h * 3600 + m * 60) as f64)
}

fn days_in(year: i64, month: i64) -> i64 {
    match month {
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Days from 1970-01-01 in the Gregorian calendar; a year begins in March here, so that the leap
/// day comes last.
fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    let (y, m) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    365 * y + y.div_euclid(4) - y.div_euclid(100) + y.div_euclid(400) + (153 * m + 2) / 5 + day
        - 719_469
}

#[cfg(test)]
mod tests {
    use super::*;

    fn between(a: &str, b: &str) -> f64 {
        Moment::parse(b).unwrap().since(Moment::parse(a).unwrap())
    }

    #[test]
    fn moments_lie_as_far_apart_as_the_calendar_says() {
        assert_eq!(between("1970-01-01 00:00:00", "2000-02-29 00:00:01"), 951_782_401.0);
        assert_eq!(between("2031-04-02 18:30:05", "2031-04-02T19:30:05.5"), 3600.5);
        assert_eq!(between("2100-02-28 00:00:00", "2100-03-01 00:00:00"), 86_400.0);
        // The night the clock goes back: an hour that is shown twice.
        assert_eq!(between("2031-10-26 02:30:00+02:00", "2031-10-26 02:30:00+01:00"), 3600.0);
        assert_eq!(between("2031-10-26 00:00:00Z", "2031-10-26 05:30:00 +05:30"), 0.0);
    }

    #[test]
    fn what_is_no_moment_is_none() {
        for bad in [
            "",
            "18:30",
            "2031-04-02",
            "2031-04-02 18:30",
            "2031-02-29 00:00:00",
            "2031-13-01 00:00:00",
            "2031-04-02 24:00:00",
            "2031-04-02 18:30:61",
            "31-4-2 1:2:3",
            "2031-04-02 18:30:05+2",
            "2031-04-02 18:30:05.x",
            "2031-04-02 -1:30:05",
            "é T é",
        ] {
            assert_eq!(Moment::parse(bad), None, "{bad}");
        }
    }
}
