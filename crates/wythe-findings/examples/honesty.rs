//! Asks on random buildings whether the inference is honest: do its 90 % intervals hold the truth
//! nine times in ten, and is the cause it ranks first a true one?
//!
//! `cargo run --release -p wythe-findings --example honesty -- [buildings] [seed]`

#[path = "../tests/laws/synthetic.rs"]
#[allow(dead_code)]
mod synthetic;

use synthetic::{Random, building, draw};
use wythe_findings::{causes, infer, rank, statements};
use wythe_transmission::Cache;

fn main() {
    let mut words = std::env::args().skip(1);
    let count: usize = words.next().and_then(|w| w.parse().ok()).unwrap_or(200);
    let seed: u64 = words.next().and_then(|w| w.parse().ok()).unwrap_or(1);
    let mut cache = Cache::default();
    let (mut inside, mut intervals) = (0, 0);
    let (mut right, mut said, mut admitted, mut asked) = (0, 0, 0, 0);
    let mut expected = 0.0;
    let (mut rooms_inside, mut rooms) = (0, 0);
    // Calibration of the probabilities: in each tenth, how many were true.
    let mut tenths = [(0usize, 0usize); 10];
    let first: usize = std::env::var("FIRST").ok().and_then(|w| w.parse().ok()).unwrap_or(0);
    for case in first..count {
        let mut random = Random(seed.wrapping_mul(1_000_003).wrapping_add(case as u64));
        let house = building(&mut random);
        cache = if cache_is_large(case) { Cache::default() } else { cache };
        let all = causes(&house);
        let (truth, trials) = draw(&house, &all, &mut random, &mut cache);
        let found = match infer(&house, &trials, &mut cache) {
            Ok(found) => found,
            Err(e) => panic!("{e}"),
        };
        for (c, p) in found.probability.iter().enumerate() {
            let slot = ((p * 10.0) as usize).min(9);
            tenths[slot].1 += 1;
            tenths[slot].0 += usize::from(truth.faults.iter().any(|(t, _)| *t == c));
        }
        if std::env::var_os("SHOW").is_some() {
            println!("building {case}, misfit {:.2}", found.misfit);
            for (t, size) in &truth.faults {
                println!("   true  {} {}", all[*t].element, all[*t].words(*size));
            }
            for f in &found.findings {
                println!(
                    "   {:>4.0} % {} {} ({} to {}), {:.1} dB",
                    100.0 * f.probability,
                    f.cause.element,
                    f.cause.words(f.size),
                    f.cause.words(f.interval_90.0),
                    f.cause.words(f.interval_90.1),
                    f.effect_db
                );
            }
        }
        for finding in &found.findings {
            let index = all.iter().position(|c| *c == finding.cause);
            let fault = truth.faults.iter().find(|(t, _)| Some(*t) == index);
            if finding.probability >= 0.5
                && finding.cause.log_spread > 0.0
                && let Some((_, size)) = fault
            {
                intervals += 1;
                let (low, high) = finding.interval_90;
                inside += usize::from(low <= *size && *size <= high);
            }
        }
        for found in &found.rooms {
            let truth = truth.absorption[found.room.0];
            rooms += 1;
            rooms_inside +=
                usize::from(found.interval_90.0 <= truth && truth <= found.interval_90.1);
        }
        // Where a true fault changes a receiver by 3 dB or more: is the top-ranked cause true?
        if truth.largest_effect >= 3.0 {
            asked += 1;
            let holds = |k: usize| {
                let index = all.iter().position(|c| *c == found.findings[k].cause);
                truth.faults.iter().any(|(t, _)| Some(*t) == index)
            };
            let top = (0..found.findings.len())
                .max_by(|&a, &b| rank(&found.findings[a]).total_cmp(&rank(&found.findings[b])));
            let is_right = top.is_some_and(holds);
            right += usize::from(is_right);
            expected += top.map_or(0.0, |k| found.findings[k].probability);
            let is_true = |c: usize| truth.faults.iter().any(|(t, _)| *t == c);
            admitted += usize::from(
                is_right
                    || top.is_some_and(|k| found.findings[k].rivals.iter().any(|&c| is_true(c))),
            );
            // What is printed first puts together what the data cannot tell apart.
            let first = statements(&found).into_iter().next();
            said += usize::from(first.is_some_and(|s| s.findings.iter().any(|&k| holds(k))));
            if std::env::var_os("SHOW").is_some() {
                println!("   >= 3 dB, top {}", if is_right { "right" } else { "wrong" });
            }
        }
    }
    println!("random buildings                         {count}");
    println!(
        "90 % intervals that hold the truth       {inside} of {intervals} ({:.0} %)",
        100.0 * inside as f64 / intervals.max(1) as f64
    );
    println!(
        "the same for the absorption of rooms     {rooms_inside} of {rooms} ({:.0} %)",
        100.0 * rooms_inside as f64 / rooms.max(1) as f64
    );
    println!(
        "top-ranked causes (>= 3 dB) that are true {right} of {asked} ({:.0} %)",
        100.0 * right as f64 / asked.max(1) as f64
    );
    println!(
        "first statements that name a true cause, with \"which one cannot be told\" {said} of {asked} \
         ({:.0} %)",
        100.0 * said as f64 / asked.max(1) as f64
    );
    println!(
        "the same, or a true cause is named as one it cannot be told from {admitted} of {asked} \
         ({:.0} %)",
        100.0 * admitted as f64 / asked.max(1) as f64
    );
    println!(
        "mean probability stated of the top-ranked   {:.0} %",
        100.0 * expected / asked.max(1) as f64
    );
    println!("stated probability and how often true:");
    for (i, (hits, all)) in tenths.iter().enumerate() {
        if *all > 0 {
            println!(
                "  {:>3}-{:<3} %  {hits:>5} of {all:<6} {:>3.0} %",
                10 * i,
                10 * (i + 1),
                100.0 * *hits as f64 / *all as f64
            );
        }
    }
}

/// The cache looks for equal build-ups one by one; random walls fill it with what never returns.
fn cache_is_large(case: usize) -> bool {
    case.is_multiple_of(5)
}
