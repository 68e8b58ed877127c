//! A table as Apache Parquet, the smallest part of that open format: required columns of 32-bit floats
//! and whole numbers for histories, optional columns of 64-bit floats and texts for results; plain, not
//! compressed, one page per column and group of rows.
//!
//! The format library of the ecosystem adds half a minute of work to the first build; a history needs
//! none of what it can do. Files are read back by that library and by another one when this module
//! changes (see `docs/method.md`).
//!
//! Source: Apache Parquet format specification (`parquet.thrift`) and the compact protocol of Apache
//! Thrift, both open standards; field numbers from memory, proven by reading the files elsewhere.

use std::io::{self, Write};

/// A column's values for one group of rows.
#[derive(Clone, Copy, Debug)]
pub enum Column<'a> {
    /// Whole numbers.
    Whole(&'a [i32]),
    /// Floats.
    Float(&'a [f32]),
    /// Floats of which some may be missing.
    Number(&'a [Option<f64>]),
    /// Texts of which some may be missing.
    Text(&'a [Option<String>]),
}

impl Column<'_> {
    fn len(&self) -> usize {
        match self {
            Column::Whole(v) => v.len(),
            Column::Float(v) => v.len(),
            Column::Number(v) => v.len(),
            Column::Text(v) => v.len(),
        }
    }

    /// What the page holds: which values are there, where some may be missing, and the values.
    fn page(&self) -> Vec<u8> {
        let mut data = Vec::with_capacity(4 * self.len());
        match self {
            Column::Whole(v) => v.iter().for_each(|x| data.extend(x.to_le_bytes())),
            Column::Float(v) => v.iter().for_each(|x| data.extend(x.to_le_bytes())),
            Column::Number(v) => {
                there(v.iter().map(Option::is_some), &mut data);
                v.iter().flatten().for_each(|x| data.extend(x.to_le_bytes()));
            }
            Column::Text(v) => {
                there(v.iter().map(Option::is_some), &mut data);
                for text in v.iter().flatten() {
                    data.extend((text.len() as u32).to_le_bytes());
                    data.extend(text.as_bytes());
                }
            }
        }
        data
    }

    /// Number of the physical type.
    fn kind(&self) -> i32 {
        match self {
            Column::Whole(_) => 1,
            Column::Float(_) => 4,
            Column::Number(_) => 5,
            Column::Text(_) => 6,
        }
    }
}

/// Definition levels of an optional column, one bit a value, packed by eights, with their length in
/// front (Parquet, Encodings: run length and bit-packing hybrid).
fn there(values: impl ExactSizeIterator<Item = bool>, data: &mut Vec<u8>) {
    let groups = values.len().div_ceil(8);
    let mut levels = Compact::default();
    levels.varint((groups as u64) << 1 | 1);
    let mut bits = vec![0u8; groups];
    for (k, is) in values.enumerate() {
        bits[k / 8] |= u8::from(is) << (k % 8);
    }
    levels.bytes.extend(bits);
    data.extend((levels.bytes.len() as u32).to_le_bytes());
    data.extend(levels.bytes);
}

struct Chunk {
    kind: i32,
    offset: u64,
    bytes: u64,
    values: u64,
}

/// Writes a table, group of rows after group of rows.
pub struct TableWriter<W: Write> {
    out: W,
    at: u64,
    names: Vec<String>,
    kinds: Vec<i32>,
    groups: Vec<(u64, Vec<Chunk>)>,
}

const MAGIC: &[u8; 4] = b"PAR1";

impl<W: Write> TableWriter<W> {
    /// A table with these columns.
    ///
    /// # Errors
    /// What writing fails with.
    pub fn new(mut out: W, names: Vec<String>) -> io::Result<TableWriter<W>> {
        out.write_all(MAGIC)?;
        Ok(TableWriter { out, at: 4, names, kinds: Vec::new(), groups: Vec::new() })
    }

    /// Appends rows: one entry per column, all of one length. Groups of ten thousand rows and more read
    /// fast.
    ///
    /// # Errors
    /// Columns that do not fit the table, and what writing fails with.
    pub fn rows(&mut self, columns: &[Column<'_>]) -> io::Result<()> {
        let rows = columns.first().map_or(0, Column::len);
        let kinds: Vec<i32> = columns.iter().map(Column::kind).collect();
        if columns.len() != self.names.len()
            || columns.iter().any(|c| c.len() != rows)
            || !(self.kinds.is_empty() || self.kinds == kinds)
        {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "the columns do not fit the table",
            ));
        }
        self.kinds = kinds;
        if rows == 0 {
            return Ok(());
        }
        let mut chunks = Vec::with_capacity(columns.len());
        for column in columns {
            let data = column.page();
            let mut header = Compact::default();
            header.i32(1, 0); // a data page
            header.i32(2, data.len() as i32);
            header.i32(3, data.len() as i32);
            header.structure(5);
            header.i32(1, rows as i32);
            header.i32(2, 0); // plain
            header.i32(3, 3); // levels: run lengths and packed bits; none where all is there
            header.i32(4, 3);
            header.end();
            header.end();
            let offset = self.at;
            let bytes = (header.bytes.len() + data.len()) as u64;
            self.out.write_all(&header.bytes)?;
            self.out.write_all(&data)?;
            self.at += bytes;
            chunks.push(Chunk { kind: column.kind(), offset, bytes, values: rows as u64 });
        }
        self.groups.push((rows as u64, chunks));
        Ok(())
    }

    /// Writes what a reader looks for at the end.
    ///
    /// # Errors
    /// What writing fails with.
    pub fn finish(mut self) -> io::Result<W> {
        let mut m = Compact::default();
        m.i32(1, 1);
        m.list(2, STRUCT, self.names.len() + 1);
        m.element();
        m.text(4, "table");
        m.i32(5, self.names.len() as i32);
        m.end();
        for (k, name) in self.names.iter().enumerate() {
            m.element();
            let kind = self.kinds.get(k).copied().unwrap_or(4);
            m.i32(1, kind);
            m.i32(3, i32::from(kind >= 5)); // required or optional
            m.text(4, name);
            if kind == 6 {
                m.i32(6, 0); // UTF-8
            }
            m.end();
        }
        m.i64(3, self.groups.iter().map(|g| g.0 as i64).sum());
        m.list(4, STRUCT, self.groups.len());
        for (rows, chunks) in &self.groups {
            m.element();
            m.list(1, STRUCT, chunks.len());
            for (chunk, name) in chunks.iter().zip(&self.names) {
                m.element();
                m.i64(2, chunk.offset as i64);
                m.structure(3);
                m.i32(1, chunk.kind);
                m.list(2, I32, 1);
                m.varint(0);
                m.list(3, BINARY, 1);
                m.varint(name.len() as u64);
                m.bytes.extend(name.as_bytes());
                m.i32(4, 0); // not compressed
                m.i64(5, chunk.values as i64);
                m.i64(6, chunk.bytes as i64);
                m.i64(7, chunk.bytes as i64);
                m.i64(9, chunk.offset as i64);
                m.end();
                m.end();
            }
            m.i64(2, chunks.iter().map(|c| c.bytes as i64).sum());
            m.i64(3, *rows as i64);
            m.end();
        }
        m.text(6, "wythe");
        m.end();
        self.out.write_all(&m.bytes)?;
        self.out.write_all(&(m.bytes.len() as u32).to_le_bytes())?;
        self.out.write_all(MAGIC)?;
        self.out.flush()?;
        Ok(self.out)
    }
}

const I32: u8 = 5;
const I64: u8 = 6;
const BINARY: u8 = 8;
const LIST: u8 = 9;
const STRUCT: u8 = 12;

/// The compact protocol: fields by their distance from the one before, whole numbers zigzag.
struct Compact {
    bytes: Vec<u8>,
    /// Number of the last field, one per open structure.
    last: Vec<i16>,
}

impl Default for Compact {
    fn default() -> Compact {
        Compact { bytes: Vec::new(), last: vec![0] }
    }
}

impl Compact {
    fn varint(&mut self, mut value: u64) {
        while value >= 0x80 {
            self.bytes.push(value as u8 | 0x80);
            value >>= 7;
        }
        self.bytes.push(value as u8);
    }

    fn zigzag(&mut self, value: i64) {
        self.varint(((value << 1) ^ (value >> 63)) as u64);
    }

    fn field(&mut self, number: i16, kind: u8) {
        let last = self.last.last_mut();
        let before = last.as_ref().map_or(0, |l| **l);
        // All distances here are 1 to 15.
        self.bytes.push(((number - before) as u8) << 4 | kind);
        if let Some(last) = last {
            *last = number;
        }
    }

    fn i32(&mut self, number: i16, value: i32) {
        self.field(number, I32);
        self.zigzag(i64::from(value));
    }

    fn i64(&mut self, number: i16, value: i64) {
        self.field(number, I64);
        self.zigzag(value);
    }

    fn text(&mut self, number: i16, text: &str) {
        self.field(number, BINARY);
        self.varint(text.len() as u64);
        self.bytes.extend(text.as_bytes());
    }

    fn list(&mut self, number: i16, kind: u8, length: usize) {
        self.field(number, LIST);
        if length < 15 {
            self.bytes.push((length as u8) << 4 | kind);
        } else {
            self.bytes.push(0xF0 | kind);
            self.varint(length as u64);
        }
    }

    fn structure(&mut self, number: i16) {
        self.field(number, STRUCT);
        self.element();
    }

    /// Begins a structure inside a list.
    fn element(&mut self) {
        self.last.push(0);
    }

    fn end(&mut self) {
        self.bytes.push(0);
        self.last.pop();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_has_its_marks_and_refuses_crooked_columns() {
        let mut w = TableWriter::new(Vec::new(), vec!["channel".into(), "level".into()]).unwrap();
        w.rows(&[Column::Whole(&[1, 2]), Column::Float(&[0.5, 1.5])]).unwrap();
        assert!(w.rows(&[Column::Whole(&[1]), Column::Float(&[0.5, 1.5])]).is_err());
        assert!(w.rows(&[Column::Float(&[0.5])]).is_err());
        assert!(w.rows(&[Column::Float(&[0.5]), Column::Float(&[0.5])]).is_err());
        let bytes = w.finish().unwrap();
        assert!(bytes.starts_with(MAGIC) && bytes.ends_with(MAGIC));
        let n = bytes.len();
        let length = u32::from_le_bytes(bytes[n - 8..n - 4].try_into().unwrap()) as usize;
        assert!(length < n - 8 && bytes[n - 8 - length] == 0x15);
        // The values stand there as they are.
        let value = 1.5f32.to_le_bytes();
        assert!(bytes.windows(4).any(|w| w == value));
    }
}
