//! Delany & Bazley 1970 and Miki 1990, evaluated from the published coefficients.

use wythe_partition::porous::{Porous, delany_bazley, miki};

use crate::examples;

fn check(p: Porous, expected: &str, tolerance: f64) {
    let printed: Vec<f64> = expected.split(';').map(|v| v.parse().unwrap()).collect();
    let ours = [p.impedance.re, p.impedance.im, p.wavenumber.re, p.wavenumber.im];
    for (a, b) in ours.iter().zip(printed) {
        assert!((a - b).abs() <= tolerance, "{ours:?} for {expected}");
    }
}

#[test]
fn delany_and_bazley() {
    for e in examples("delany_bazley") {
        check(delany_bazley(e.input("sigma =")), &e.expected, e.tolerance);
    }
}

#[test]
fn miki_s_law() {
    for e in examples("miki") {
        check(miki(e.input("sigma =")), &e.expected, e.tolerance);
    }
}
