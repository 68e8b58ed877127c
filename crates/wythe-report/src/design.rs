//! Design values by role, from the one file that holds them.
//!
//! The ramps are ink laid over ground in five steps: `ramp` for shares, where dark is more and
//! the text turns to ground on the darker steps; `tint` for tables and plans, pale enough that
//! ink stays readable on all five.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::LazyLock;

/// The file itself, for a page that reads it directly.
pub const DESIGN_JSON: &str = include_str!("design.json");

static DESIGN: LazyLock<Design> = LazyLock::new(|| {
    // The file is part of the program; the test below reads it, so this cannot fail in the field.
    serde_json::from_str(DESIGN_JSON).expect("design.json is well formed")
});

/// A set of colour values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Theme {
    /// Dark marks on paper, the home.
    Light,
    /// Light marks on a dark ground.
    Dark,
    /// White ground, for paper.
    Print,
}

impl Theme {
    /// All themes.
    pub const ALL: [Theme; 3] = [Theme::Light, Theme::Dark, Theme::Print];

    fn key(self) -> &'static str {
        match self {
            Theme::Light => "light",
            Theme::Dark => "dark",
            Theme::Print => "print",
        }
    }
}

#[derive(Deserialize)]
struct Design {
    colour: BTreeMap<String, BTreeMap<String, String>>,
    ramp_percent: BTreeMap<String, [f64; 5]>,
    tint_percent: BTreeMap<String, [f64; 5]>,
}

/// Every value of a theme: name without the leading dashes, and the colour as CSS writes it.
pub fn values(theme: Theme) -> Vec<(String, String)> {
    let colours = &DESIGN.colour[theme.key()];
    let mut out: Vec<_> = colours.iter().map(|(k, v)| (k.clone(), v.clone())).collect();
    let (ground, ink) = (channels(&colours["ground"]), channels(&colours["ink"]));
    for (name, steps) in [("ramp", &DESIGN.ramp_percent), ("tint", &DESIGN.tint_percent)] {
        for (i, percent) in steps[theme.key()].iter().enumerate() {
            let mixed = mix(ground, ink, percent / 100.0);
            out.push((format!("{name}-{}", i + 1), hex(mixed)));
            let better = if contrast(mixed, ink) >= contrast(mixed, ground) { ink } else { ground };
            out.push((format!("on-{name}-{}", i + 1), hex(better)));
        }
    }
    out
}

/// The values as CSS custom properties: light first, dark where the reader's system asks for it
/// or `data-theme="dark"` stands on the root, and light on white paper whatever the screen shows.
pub fn custom_properties() -> String {
    let block = |theme| {
        let mut out = String::new();
        for (name, value) in values(theme) {
            let _ = write!(out, "--{name}:{value};");
        }
        out
    };
    let (light, dark, print) = (block(Theme::Light), block(Theme::Dark), block(Theme::Print));
    format!(
        ":root{{color-scheme:light dark;{light}}}\n\
         @media (prefers-color-scheme:dark){{:root:not([data-theme=\"light\"]){{{dark}}}}}\n\
         :root[data-theme=\"dark\"]{{color-scheme:dark;{dark}}}\n\
         :root[data-theme=\"light\"]{{color-scheme:light}}\n\
         @media print{{:root:root:root{{color-scheme:light;{print}}}}}\n"
    )
}

/// `css` with every `var(--role)` replaced by the value of one theme, for pictures that leave the
/// page and for readers of SVG that know no custom properties.
pub fn resolved(css: &str, theme: Theme) -> String {
    let mut out = css.to_owned();
    for (name, value) in values(theme) {
        out = out.replace(&format!("var(--{name})"), &value);
    }
    out
}

fn channels(hex: &str) -> [f64; 3] {
    let digits = hex.trim_start_matches('#');
    std::array::from_fn(|i| {
        digits.get(2 * i..2 * i + 2).and_then(|d| u8::from_str_radix(d, 16).ok()).unwrap_or(0)
            as f64
    })
}

fn hex(colour: [f64; 3]) -> String {
    let [r, g, b] = colour.map(|c| c.round().clamp(0.0, 255.0) as u8);
    format!("#{r:02X}{g:02X}{b:02X}")
}

fn mix(ground: [f64; 3], ink: [f64; 3], share: f64) -> [f64; 3] {
    std::array::from_fn(|i| ground[i] + (ink[i] - ground[i]) * share)
}

/// Contrast ratio of two colours, 1 to 21. WCAG 2.1, definitions of relative luminance and
/// contrast ratio (constants from memory; they reproduce the published 21:1 of black on white).
fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
    let luminance = |c: [f64; 3]| {
        let [r, g, b] = c.map(|v| {
            let v = v / 255.0;
            if v <= 0.03928 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        });
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    let (x, y) = (luminance(a), luminance(b));
    (x.max(y) + 0.05) / (x.min(y) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn black_on_white_is_21() {
        assert!((contrast([0.0; 3], [255.0; 3]) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn text_reaches_4_5_and_marks_reach_3_on_every_ground() {
        for theme in Theme::ALL {
            let all: BTreeMap<_, _> = values(theme).into_iter().collect();
            let of = |name: &str| channels(&all[name]);
            for (name, least) in [
                ("ink", 4.5),
                ("second", 4.5),
                ("predicted", 4.5),
                ("required", 4.5),
                ("look-here", 4.5),
                ("context", 3.0),
            ] {
                for ground in ["ground", "shade"] {
                    let got = contrast(of(name), of(ground));
                    assert!(got >= least, "{theme:?} {name} on {ground}: {got:.2}");
                }
            }
            for ramp in ["ramp", "tint"] {
                for step in 1..=5 {
                    let got =
                        contrast(of(&format!("{ramp}-{step}")), of(&format!("on-{ramp}-{step}")));
                    assert!(got >= 4.5, "{theme:?} {ramp} {step}: {got:.2}");
                }
            }
        }
    }

    #[test]
    fn resolving_leaves_no_variable_behind() {
        for theme in Theme::ALL {
            assert!(!resolved(crate::chart::STYLE, theme).contains("var(--"));
        }
    }
}
