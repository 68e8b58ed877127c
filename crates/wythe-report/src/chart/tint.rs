//! Five pale steps over a set of figures.

/// For each figure its step, 1 (lowest) to 5 (highest), in equal parts of the range from the
/// lowest to the highest; `None` where there is no finite figure. Equal figures are all step 1.
pub(crate) fn steps(values: &[Option<f64>]) -> Vec<Option<usize>> {
    let known = || values.iter().flatten().copied().filter(|v| v.is_finite());
    let low = known().fold(f64::INFINITY, f64::min);
    let high = known().fold(f64::NEG_INFINITY, f64::max);
    values
        .iter()
        .map(|v| {
            let v = v.filter(|v| v.is_finite())?;
            let part = if high > low { (v - low) / (high - low) } else { 0.0 };
            Some(((part * 5.0) as usize).min(4) + 1)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::steps;

    #[test]
    fn lowest_is_one_and_highest_five() {
        let got = steps(&[Some(20.0), None, Some(30.0), Some(f64::NAN), Some(40.0)]);
        assert_eq!(got, [Some(1), None, Some(3), None, Some(5)]);
        assert_eq!(steps(&[Some(7.0), Some(7.0)]), [Some(1), Some(1)]);
    }
}
