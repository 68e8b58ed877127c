//! Texts nobody would write end in good time, with a message or without.

use std::time::Instant;
use wythe_project::{MemoryFiles, read, template};

/// A quarter of the largest text that is read, so that the test itself stays short; a full one
/// takes about four times as long (seen: under 6 s each, unoptimised).
const FULL: usize = 1024 * 1024;

fn timed(name: &str, text: &str) {
    let begin = Instant::now();
    let reading = read(&MemoryFiles::new().with("wythe.toml", text));
    let took = begin.elapsed().as_secs_f64();
    println!("{name}: {took:.2} s, {} errors", reading.errors.len());
    assert!(reading.project.is_some() || !reading.errors.is_empty());
    assert!(took < 60.0, "{name} took {took} s");
}

fn filled(head: &str, piece: impl Fn(usize) -> String) -> String {
    let mut out = head.to_owned();
    let mut i = 0;
    loop {
        let next = piece(i);
        if out.len() + next.len() > FULL {
            return out;
        }
        out += &next;
        i += 1;
    }
}

const BRICK: &str =
    "\n[[build_up]]\nid = \"b\"\nlayers = [{ board = \"brick\", thickness = \"100 mm\" }]\n";

#[test]
fn a_mebibyte_of_anything() {
    let one = "wythe = 1\n";
    timed("rooms", &filled(one, |i| format!("[[room]]\nid = \"{i}\"\nvolume = \"40 m3\"\n")));
    timed("keys", &filled(one, |i| format!("k{i} = 1\n")));
    timed("slips", &filled(one, |i| format!("a b{i}\n")));
    timed("brackets", &filled(one, |_| "[[".to_owned()));
    timed("quotes", &filled(one, |_| "\"\"\"".to_owned()));
    timed("one line", &filled("wythe = 1\ntitle = \"", |_| "x".repeat(1000)));
    timed(
        "bands",
        &filled("wythe = 1\n[[room]]\nid = \"a\"\nabsorption = {", |i| format!("{i} = \"1 m2\", ")),
    );
    timed("template", &filled("", |_| template()));
}

#[test]
fn openings_without_names_and_boundaries_of_the_same_rooms() {
    let rooms = format!(
        "wythe = 1\n[[room]]\nid = \"a\"\nvolume = \"40 m3\"\n[[room]]\nid = \"c\"\nvolume = \"40 m3\"\n{BRICK}"
    );
    let boundary = "[[boundary]]\nbetween = [\"a\", \"c\"]\nbuild_up = \"b\"\narea = \"900 m2\"\n";
    let opening = "[[boundary.opening]]\nkind = \"hole\"\nwidth = \"1 m\"\nheight = \"1 m\"\n";
    let many = boundary.to_owned() + &opening.repeat(199);
    timed("openings", &filled(&rooms, |_| many.clone()));
    let few: String = rooms.clone() + &boundary.repeat(4900);
    timed("boundaries", &few);
}

#[test]
fn combs_across_each_other() {
    // Rooms of a hundred corners whose teeth cross those of every other room.
    let comb = |i: usize, upright: bool| {
        let shift = i as f64 * 0.01;
        let mut corners = Vec::new();
        for k in 0..24 {
            let (x, y) = (k as f64 * 2.0 + shift, 40.0 + shift);
            corners.extend([(x, 0.5), (x, y), (x + 1.0, y), (x + 1.0, 0.5)]);
        }
        corners.extend([(47.0 + shift, 0.0), (shift, 0.0)]);
        let text: Vec<String> = corners
            .iter()
            .map(|(x, y)| if upright { (*x, *y) } else { (*y, *x) })
            .map(|(x, y)| format!("[\"{x} m\", \"{y} m\"]"))
            .collect();
        format!(
            "[[room]]\nid = \"{i}\"\nheight = \"2.5 m\"\nstorey = {}\ndecay_time = \"1 s\"\noutline = [{}]\n",
            i % 150,
            text.join(", ")
        )
    };
    let head = format!("wythe = 1\n[defaults]\nwall = \"b\"\nfloor = \"b\"\n{BRICK}");
    let mut text = head.clone();
    for i in 0..120 {
        text += &comb(i, i % 2 == 0);
    }
    timed("combs over each other", &text);
    let mut text = head;
    for i in 0..300 {
        text += &comb(i, i % 2 == 0).replace(&format!("storey = {}", i % 150), "storey = 0");
    }
    timed("combs in each other", &text);
}
