//! Names and numbers as people read them.

/// Names joined for one line: all of up to four, else three and how many more.
pub(super) fn list<S: AsRef<str>>(names: &[S]) -> String {
    let name = |i: usize| names[i].as_ref();
    match names.len() {
        0 => String::new(),
        1 => name(0).to_owned(),
        n @ 2..=4 => {
            let head: Vec<&str> = (0..n - 1).map(name).collect();
            format!("{} and {}", head.join(", "), name(n - 1))
        }
        n => format!("{}, {}, {} and {} more", name(0), name(1), name(2), n - 3),
    }
}

/// A time as people say it: seconds under two minutes, minutes under two hours, else hours.
pub(super) fn time(minutes: f64) -> String {
    if !minutes.is_finite() {
        return "no time that can be stated".into();
    }
    // Rounded down: a time that must not be passed is never written longer than it is.
    let seconds = (minutes * 60.0 + 1e-6).floor().max(0.0);
    if minutes < 2.0 {
        format!("{seconds:.0} s")
    } else if minutes < 120.0 {
        format!("{:.0} min", (minutes + 1e-6).floor())
    } else if minutes <= 1440.0 {
        let whole = (minutes + 1e-6).floor();
        let (h, m) = ((whole / 60.0).floor(), whole % 60.0);
        if m == 0.0 { format!("{h:.0} h") } else { format!("{h:.0} h {m:.0} min") }
    } else {
        "more than a day".into()
    }
}

/// A number with three figures that mean something.
pub(super) fn figures(value: f64) -> String {
    match value.abs() {
        v if v >= 1000.0 && v.is_finite() => {
            let step = 10f64.powf(v.log10().floor() - 2.0);
            format!("{:.0}", (value / step).round() * step)
        }
        v if v >= 100.0 => format!("{value:.0}"),
        v if v >= 10.0 => format!("{value:.1}"),
        _ => format!("{value:.2}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_and_times() {
        assert_eq!(list(&["a"]), "a");
        assert_eq!(list(&["a", "b"]), "a and b");
        assert_eq!(list(&["a", "b", "c", "d"]), "a, b, c and d");
        assert_eq!(list(&["a", "b", "c", "d", "e"]), "a, b, c and 2 more");
        assert_eq!(time(0.47), "28 s");
        assert_eq!(time(7.5), "7 min");
        assert_eq!(time(480.0), "8 h");
        assert_eq!(time(151.2), "2 h 31 min");
        assert_eq!(figures(13_524.0), "13500");
        assert_eq!(figures(1015.0), "1020");
        assert_eq!(figures(-999.6), "-1000");
        assert_eq!(figures(26.853), "26.9");
        assert_eq!(time(f64::INFINITY), "no time that can be stated");
    }
}
