//! What a document says, before it is put on a page.

use super::text::Text;
use crate::chart::{DataTable, Drawing, Format, RoomTable};
use crate::language::Language;

/// A whole document. Numbers of figures and tables follow from their order.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Document {
    /// First heading and title of the window.
    pub title: String,
    /// Language as a BCP 47 tag, such as `en`. Anything that is no such tag is written `und`,
    /// the tag for an undetermined language.
    pub language: String,
    /// Language of the words the page itself adds: figure, table, caution.
    pub words: Language,
    /// Name of the project, for the running foot.
    pub project: String,
    /// Date of the results as it is to be printed.
    pub date: String,
    /// Version of the program.
    pub version: String,
    /// Names of the methods used, for the running foot.
    pub methods: Vec<String>,
    /// Sheet to print on.
    pub paper: Paper,
    /// Whether a list of the main headings stands under the title.
    pub contents: bool,
    /// Whether the whole is meant to stand on one printed sheet: smaller print, narrow margins.
    pub one_sheet: bool,
    /// The content in reading order.
    pub blocks: Vec<Block>,
}

/// Sheet size.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Paper {
    /// Whatever the printer holds; the margins suit A4 and Letter.
    #[default]
    Any,
    /// 210 mm by 297 mm.
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

/// One piece of a document.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading: a sentence that says the result.
    Heading {
        /// 2 for a main part, 3 and 4 below it; other values are brought into that range.
        level: u8,
        /// The sentence.
        text: Text,
    },
    /// The answer to the question, large.
    Answer(Answer),
    /// Running text.
    Paragraph(Text),
    /// A list.
    List(ListKind, Vec<Text>),
    /// The few figures that answer the question.
    Facts(Vec<Fact>),
    /// A picture with its caption and, folded away, its figures. In a box because it is large.
    Figure(Box<Figure>),
    /// A table.
    Table(Table),
    /// Room to room.
    Rooms(RoomTable),
    /// Where the work can hurt someone.
    Caution(Text),
    /// A note that is no caution.
    Notice(Text),
    /// Folded away until asked for; printed in full.
    Details(String, Vec<Block>),
    /// Beside each other where the sheet is wide enough.
    Beside(Vec<Block>),
    /// Boxes to put photographs in.
    Photographs(Vec<PhotoSlot>),
    /// Blocks in another language than the rest of the document.
    InLanguage(Language, Vec<Block>),
    /// A new sheet in print.
    PageBreak,
}

/// An empty box for one photograph.
#[derive(Clone, Debug, PartialEq)]
pub struct PhotoSlot {
    /// Its number in the checklist.
    pub number: usize,
    /// Where it is taken.
    pub place: Text,
    /// What has to be seen on it.
    pub seen: Text,
}

/// Whether a target is met, in words and a mark, never by colour alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// Met.
    Met,
    /// Missed.
    Short,
    /// Cannot be told from what is known.
    NotKnown,
}

/// The answer to one question in one sentence, with a second line if there is more to say.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// How it stands.
    pub verdict: Verdict,
    /// The sentence.
    pub sentence: Text,
    /// What follows from it.
    pub more: Text,
}

/// How a list is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ListKind {
    /// Dashes.
    Plain,
    /// Numbers.
    Numbered,
    /// Empty boxes to tick on paper.
    Checks,
}

/// One figure that answers the question.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// What it is.
    pub label: Text,
    /// The figure with its unit.
    pub value: Text,
    /// Uncertainty, method, condition.
    pub note: Text,
}

/// A picture, in a form for wide pages and one for telephones.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The form for paper and wide screens.
    pub wide: Drawing,
    /// The form for narrow screens; without one the wide form shrinks.
    pub narrow: Option<Drawing>,
    /// The same in figures.
    pub table: Option<DataTable>,
    /// Whether the data are invented.
    pub invented: bool,
}

impl Figure {
    /// Both forms of a picture: `draw` is called once for paper and once for telephones.
    pub fn new(draw: impl Fn(Format) -> Drawing) -> Figure {
        Figure {
            wide: draw(Format::Report),
            narrow: Some(draw(Format::Phone)),
            table: None,
            invented: false,
        }
    }

    /// With its figures.
    pub fn with_table(mut self, table: DataTable) -> Figure {
        self.table = Some(table);
        self
    }

    /// Marked as invented.
    pub fn invented(mut self) -> Figure {
        self.invented = true;
        self
    }
}

impl From<Figure> for Block {
    fn from(figure: Figure) -> Block {
        Block::Figure(Box::new(figure))
    }
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    /// Head of the column.
    pub text: Text,
    /// Whether it holds figures, set to the right so that decimal points align.
    pub figures: bool,
}

impl Column {
    /// A column of words.
    pub fn words(text: impl Into<Text>) -> Column {
        Column { text: text.into(), figures: false }
    }

    /// A column of figures.
    pub fn figures(text: impl Into<Text>) -> Column {
        Column { text: text.into(), figures: true }
    }
}

/// A table. A row shorter than the head is filled with blanks; a longer one keeps its cells.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Table {
    /// Id for links; may be empty.
    pub id: String,
    /// What it holds, where and when, by which method.
    pub caption: Text,
    /// Columns; the first names the row.
    pub columns: Vec<Column>,
    /// Rows.
    pub rows: Vec<Vec<Text>>,
    /// Last row, ruled off: a sum.
    pub total: Option<Vec<Text>>,
    /// Whether the data are invented.
    pub invented: bool,
}

impl From<DataTable> for Table {
    fn from(data: DataTable) -> Table {
        let columns = data
            .head
            .into_iter()
            .enumerate()
            .map(|(i, text)| Column { text: text.into(), figures: i > 0 })
            .collect();
        Table {
            caption: data.caption.into(),
            columns,
            rows: data
                .rows
                .into_iter()
                .map(|row| row.into_iter().map(Text::from).collect())
                .collect(),
            ..Table::default()
        }
    }
}
