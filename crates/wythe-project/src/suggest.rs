//! The nearest known word to a mistyped one.

/// The known word nearest to `word`, if it is near enough to have been meant.
pub(crate) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower: String = word.to_lowercase().replace(['-', '_'], " ");
    let count = lower.chars().count();
    if count == 0 || count > 60 {
        return None;
    }
    let most = (count / 3).clamp(1, 4);
    known
        .into_iter()
        .map(|k| (distance(&lower, &k.to_lowercase().replace(['-', '_'], " ")), k))
        .filter(|(d, _)| *d <= most)
        .min_by_key(|(d, _)| *d)
        .map(|(_, k)| k)
}

/// Number of letters to change, insert, leave out or swap with a neighbour.
fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.chars().collect();
    let b: Vec<char> = b.chars().collect();
    let mut rows = vec![vec![0usize; b.len() + 1]; a.len() + 1];
    for (i, row) in rows.iter_mut().enumerate() {
        row[0] = i;
    }
    for (j, cell) in rows[0].iter_mut().enumerate() {
        *cell = j;
    }
    for i in 1..=a.len() {
        for j in 1..=b.len() {
            let change = usize::from(a[i - 1] != b[j - 1]);
            let mut least =
                (rows[i - 1][j] + 1).min(rows[i][j - 1] + 1).min(rows[i - 1][j - 1] + change);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(rows[i - 2][j - 2] + 1);
            }
            rows[i][j] = least;
        }
    }
    rows[a.len()][b.len()]
}

/// `; did you mean `x`?` or a list of what there is.
pub(crate) fn hint(word: &str, known: &[&str]) -> String {
    match nearest(word, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None if known.is_empty() => "none is described yet".to_owned(),
        None => {
            let shown: Vec<String> = known.iter().take(40).map(|k| format!("`{k}`")).collect();
            let more = if known.len() > 40 { ", …" } else { "" };
            format!("known here: {}{more}", shown.join(", "))
        }
    }
}
