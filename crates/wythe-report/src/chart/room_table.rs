//! Room to room: a table, source rooms down, receiving rooms across.

use super::svg::{escape, id};
use super::tint::steps;
use std::fmt::Write;

/// One pair of rooms.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct RoomCell {
    /// The figure as text, with its unit where the caption does not say it: "−4.2".
    pub text: String,
    /// The figure that decides the depth of the tint; none leaves the cell plain.
    pub value: Option<f64>,
    /// Id of the figure this cell leads to, within the same page.
    pub figure: Option<String>,
    /// Address this cell leads to instead, for a face with pages.
    pub address: Option<String>,
}

/// A table of room pairs with the figure as text over a pale ramp.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct RoomTable {
    /// What the figures are, and what darker means.
    pub caption: String,
    /// Source rooms, down.
    pub sources: Vec<String>,
    /// Receiving rooms, across.
    pub receivers: Vec<String>,
    /// One row per source; `None` where there is no such pair, as on the diagonal.
    pub cells: Vec<Vec<Option<RoomCell>>>,
}

impl RoomTable {
    /// The table as an HTML element. A row shorter than the head is filled with blanks; cells
    /// beyond the head have no column and are left out.
    pub fn html(&self) -> String {
        let values: Vec<Option<f64>> = self
            .cells
            .iter()
            .flat_map(|row| row.iter().map(|c| c.as_ref().and_then(|c| c.value)))
            .collect();
        let mut depth = steps(&values).into_iter();
        let mut out = String::from("<table class=\"rooms\">\n");
        let _ = writeln!(out, "<caption dir=\"auto\">{}</caption>", escape(&self.caption));
        out.push_str("<thead><tr><th scope=\"col\">from ↓ to →</th>");
        for name in &self.receivers {
            let _ = write!(out, "<th scope=\"col\" dir=\"auto\">{}</th>", escape(name));
        }
        out.push_str("</tr></thead>\n<tbody>\n");
        for (i, name) in self.sources.iter().enumerate() {
            let _ = write!(out, "<tr><th scope=\"row\" dir=\"auto\">{}</th>", escape(name));
            let row: &[Option<RoomCell>] = self.cells.get(i).map_or(&[], |r| r);
            let depths: Vec<_> = row.iter().map(|_| depth.next().flatten()).collect();
            for j in 0..self.receivers.len() {
                let Some(cell) = row.get(j).and_then(Option::as_ref) else {
                    out.push_str("<td></td>");
                    continue;
                };
                let class = match depths.get(j).copied().flatten() {
                    Some(step) => format!(" class=\"t-{step}\""),
                    None => String::new(),
                };
                let text = escape(&cell.text);
                let inner = match (&cell.address, &cell.figure) {
                    (Some(address), _) => format!("<a href=\"{}\">{text}</a>", escape(address)),
                    (None, Some(figure)) => format!("<a href=\"#{}\">{text}</a>", id(figure)),
                    (None, None) => text,
                };
                let _ = write!(out, "<td{class}>{inner}</td>");
            }
            out.push_str("</tr>\n");
        }
        out.push_str("</tbody></table>\n");
        out
    }
}
