//! All tables as one workbook (Office Open XML, ECMA-376): a sheet for each, real numbers, and
//! formulas where a reader changes a value.

use rust_xlsxwriter::utility::row_col_to_cell;
use rust_xlsxwriter::{Format, Formula, Workbook, XlsxError};
use thiserror::Error;

use super::{Cell, Sheet};

/// Why there is no workbook.
#[derive(Debug, Error)]
#[error("the tables do not fit into a workbook: {0}; the CSV tables have no such limit")]
pub struct WorkbookError(#[from] XlsxError);

/// Widest column, in signs: longer words run on or are read in the cell's own line.
const WIDEST: usize = 40;

/// The workbook as bytes. Words are written as words, so that none of them is calculated.
///
/// # Errors
/// [`WorkbookError`] when a table has more than 1 048 576 rows or a cell more than 32 767 signs.
pub fn workbook(sheets: &[Sheet]) -> Result<Vec<u8>, WorkbookError> {
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let contents = book.add_worksheet();
    contents.set_name("contents")?;
    for (column, head) in ["sheet", "holds"].into_iter().enumerate() {
        contents.write_string_with_format(0, column as u16, head, &bold)?;
    }
    contents.set_column_width(0, 14)?;
    contents.set_column_width(1, 110)?;
    for (i, sheet) in sheets.iter().enumerate() {
        contents.write_string(i as u32 + 1, 0, sheet.name)?;
        contents.write_string(i as u32 + 1, 1, sheet.about)?;
    }
    for sheet in sheets {
        let page = book.add_worksheet();
        page.set_name(sheet.name)?;
        page.set_freeze_panes(1, 0)?;
        // Stored beside a formula that has no result yet; without it the library stores 0.
        page.set_formula_result_default("");
        for (column, head) in sheet.heads.iter().enumerate() {
            page.write_string_with_format(0, column as u16, head, &bold)?;
            let longest = sheet.rows.iter().take(200).filter_map(|r| match r.get(column) {
                Some(Cell::Words(text)) => Some(text.chars().count()),
                _ => None,
            });
            let width = longest.chain([head.chars().count()]).max().unwrap_or(8).min(WIDEST);
            page.set_column_width(column as u16, width as f64 + 2.0)?;
        }
        for (i, row) in sheet.rows.iter().enumerate() {
            let at = i as u32 + 1;
            for (column, cell) in row.iter().enumerate() {
                let column = column as u16;
                match cell {
                    Cell::Nothing => {}
                    Cell::Words(text) => {
                        page.write_string(at, column, text)?;
                    }
                    Cell::Number(v) => {
                        page.write_number(at, column, *v)?;
                    }
                    Cell::Product([a, b], value) => {
                        let [a, b] = [a, b].map(|c| row_col_to_cell(at, *c as u16));
                        // An empty price makes an empty cost, not one of nothing.
                        let formula = Formula::new(format!("=IF({b}=\"\",\"\",{a}*{b})"))
                            .set_result(value.map(|v| v.to_string()).unwrap_or_default());
                        page.write_formula(at, column, formula)?;
                    }
                }
            }
        }
        if let (Some(column), false) = (sheet.total, sheet.rows.is_empty()) {
            let last = sheet.rows.len() as u32;
            let [from, to] = [1, last].map(|r| row_col_to_cell(r, column as u16));
            let sum: f64 = sheet.rows.iter().filter_map(|r| value(r.get(column)?)).sum();
            page.write_string_with_format(last + 2, 0, "sum of the prices given", &bold)?;
            let formula = Formula::new(format!("=SUM({from}:{to})")).set_result(sum.to_string());
            page.write_formula_with_format(last + 2, column as u16, formula, &bold)?;
        }
    }
    Ok(book.save_to_buffer()?)
}

fn value(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Number(v) | Cell::Product(_, Some(v)) => Some(*v),
        _ => None,
    }
}
