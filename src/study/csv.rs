//! Tables as people keep them: records of a CSV file through fixed buffers, whatever the separator.
//!
//! Comma, semicolon and tab separate; with semicolon or tab a decimal comma is understood. Lines that start with `#` and blank lines
//! are skipped.

use std::fmt;
use std::io::{BufRead, BufReader, Read};

/// Longest row, bytes: a label, a number and a comment fit; a file without line ends does not.
pub const ROW_MAX: usize = 16 * 1024;
const COLUMNS_MAX: usize = 256;
/// Something wrong with the table, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Line in the file, from 1; zero where it is the whole file.
    pub line: u64,
    pub text: String,
}

impl Problem {
    /// At a line, or 0 for the whole file.
    pub fn new(line: u64, text: impl Into<String>) -> Problem {
        Problem { line, text: text.into() }
    }
}

/// Everything that is wrong with a table.
#[derive(Debug, Clone, PartialEq)]
pub struct TableErrors {
    pub problems: Vec<Problem>,
}

impl TableErrors {
    /// One problem, at a line or, with 0, of the whole file.
    pub fn new(line: u64, text: impl Into<String>) -> TableErrors {
        TableErrors { problems: vec![Problem::new(line, text)] }
    }
}

impl From<Vec<Problem>> for TableErrors {
    fn from(problems: Vec<Problem>) -> TableErrors {
        TableErrors { problems }
    }
}

impl fmt::Display for TableErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, Problem { line, text }) in self.problems.iter().enumerate() {
            let end = if i == 0 { "" } else { "\n" };
            match line {
                0 => write!(f, "{end}{text}")?,
                line => write!(f, "{end}line {line}: {text}")?,
            }
        }
        Ok(())
    }
}

impl std::error::Error for TableErrors {}

/// One record of the file.
pub struct Row {
    /// In the file, from 1.
    pub line: u64,
    pub fields: Vec<String>,
}

/// Records of a CSV file through fixed buffers.
pub struct Rows<R> {
    input: BufReader<R>,
    parser: csv_core::Reader,
    bytes: Vec<u8>,
    ends: Vec<usize>,
    /// Whether numbers may have a decimal comma, since commas do not separate.
    pub decimal_comma: bool,
}

impl<R: Read> Rows<R> {
    /// Begins to read; the separator is the first row's.
    ///
    /// # Errors
    /// Where it is no plain text or cannot be read.
    pub fn open(input: R) -> Result<Rows<R>, TableErrors> {
        let mut input = BufReader::with_capacity(ROW_MAX, input);
        let start = input.fill_buf().map_err(unreadable)?;
        if start.starts_with(&[0xff, 0xfe])
            || start.starts_with(&[0xfe, 0xff])
            || start.iter().take(64).any(|b| *b == 0)
        {
            let what = "this is not plain text (UTF-16 or a workbook?); save it as CSV, UTF-8";
            return Err(TableErrors::new(0, what));
        }
        let mark = if start.starts_with(b"\xef\xbb\xbf") { 3 } else { 0 };
        let header = start[mark..].split(|b| *b == b'\n').find(|line| !line.starts_with(b"#")).unwrap_or(&[]);
        let count = |separator: u8| header.iter().filter(|b| **b == separator).count();
        let separator = [b';', b'\t'].into_iter().find(|s| count(*s) > count(b',')).unwrap_or(b',');
        input.consume(mark);
        let parser = csv_core::ReaderBuilder::new().delimiter(separator).comment(Some(b'#')).build();
        Ok(Rows {
            input,
            parser,
            bytes: vec![0; ROW_MAX],
            ends: vec![0; COLUMNS_MAX],
            decimal_comma: separator != b',',
        })
    }

    /// The next record, `None` at the end.
    ///
    /// # Errors
    /// Where a row is too long or the file cannot be read.
    #[expect(clippy::should_implement_trait, reason = "an iterator would hand over errors row by row")]
    pub fn next(&mut self) -> Result<Option<Row>, TableErrors> {
        use csv_core::ReadRecordResult as Found;
        let (mut length, mut count) = (0, 0);
        loop {
            let input = self.input.fill_buf().map_err(unreadable)?;
            let (found, read, written, ended) =
                self.parser.read_record(input, &mut self.bytes[length..], &mut self.ends[count..]);
            let line_ended = read > 0 && input[read - 1] == b'\n';
            self.input.consume(read);
            (length, count) = (length + written, count + ended);
            match found {
                Found::InputEmpty => {}
                Found::OutputFull => return Err(self.too_much(format!("a row longer than {ROW_MAX} bytes"))),
                Found::OutputEndsFull => return Err(self.too_much(format!("more than {COLUMNS_MAX} columns"))),
                Found::Record => return Ok(Some(self.row(count, self.parser.line() - u64::from(line_ended)))),
                Found::End => return Ok(None),
            }
        }
    }

    fn row(&self, count: usize, line: u64) -> Row {
        let mut start = 0;
        let mut field = |end: &usize| {
            let text = String::from_utf8_lossy(&self.bytes[start..*end]).into_owned();
            start = *end;
            text
        };
        Row { line, fields: self.ends[..count].iter().map(&mut field).collect() }
    }

    fn too_much(&self, what: String) -> TableErrors {
        TableErrors::new(self.parser.line(), format!("{what}: is this the right file, and are its quotes closed?"))
    }
}

fn unreadable(error: std::io::Error) -> TableErrors {
    TableErrors::new(0, format!("cannot be read: {error}"))
}
