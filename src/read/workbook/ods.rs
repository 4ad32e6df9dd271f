//! Workbooks of the open format: ods.
//!
//! After `OpenDocument` 1.3 part 3 (OASIS). Blank rows and cells are stored once with a count and stay so; what is not blank
//! is repeated as often as the count says, within a limit.

use std::io::BufRead;

use quick_xml::Reader;
use quick_xml::events::BytesStart;
use quick_xml::events::Event;

use crate::diag::Problem;
use crate::read::Limits;
use crate::read::limits;
use crate::read::table::Cell;
use crate::read::workbook::Sheet;
use crate::read::workbook::Workbook;
use crate::read::workbook::number;
use crate::read::workbook::number::Dates;
use crate::read::workbook::number::Meaning;
use crate::read::workbook::package::Package;
use crate::read::workbook::unreadable;

/// Elements within elements, down to a worksheet; a real one lies four deep.
const MOST_DEPTH: usize = 100;

/// A content part, read event by event.
struct Content<R> {
    reader: Reader<R>,
    buffer: Vec<u8>,
}

/// A row until it is known whole.
#[derive(Default)]
struct Row {
    cells: Vec<Entry>,
    /// The column after the last cell, blank ones included.
    width: u32,
}

/// A cell that holds something, repeated from a column on.
struct Entry {
    column: u32,
    count: u32,
    value: Value,
}

enum Value {
    Text(String),
    Number(f64, Meaning),
    Date(jiff::civil::Date),
    Truth(bool),
    Error(String),
}

/// What the attributes of a cell say.
#[derive(Default)]
struct Attributes {
    kind: String,
    is_error: bool,
    has_formula: bool,
    value: String,
    /// A text given as an attribute instead of in paragraphs.
    text: Option<String>,
    count: u32,
}

/// Reads all worksheets.
pub(super) fn read(
    workbook: &mut Workbook<'_>,
    package: &mut Package<'_>,
) -> Result<(), Box<Problem>> {
    let manifest = package.bytes("META-INF/manifest.xml")?.unwrap_or_default();
    if String::from_utf8_lossy(&manifest).contains("encryption-data") {
        return Err(unreadable("it is protected by a password"));
    }
    let limits = workbook.limits;
    let reader = Reader::from_reader(package.part("content.xml")?);
    let mut content = Content { reader, buffer: Vec::new() };
    // Tables elsewhere, in tracked changes or charts, are no worksheets.
    let mut path = Vec::new();
    loop {
        match content.next()? {
            Event::Start(element) => {
                let is_sheet = element.local_name().as_ref() == "table"
                    && path.last().is_some_and(|parent| parent == "spreadsheet");
                if !is_sheet {
                    if path.len() >= MOST_DEPTH {
                        return Err(unreadable("its content is nested too deep"));
                    }
                    path.push(element.local_name().as_ref().to_owned());
                    continue;
                }
                let name = attribute(&element, "name")?.unwrap_or_default();
                let mut has_ended = false;
                workbook.sheet(&name, Dates::From1900, |sheet| {
                    fill(sheet, &mut content, &limits)?;
                    has_ended = true;
                    Ok(())
                });
                // The rest of a part that broke off in a sheet cannot be trusted.
                if !has_ended {
                    return Ok(());
                }
            }
            Event::End(_) => drop(path.pop()),
            Event::Eof if path.is_empty() => return Ok(()),
            Event::Eof => return Err(unreadable("its content ends in the middle")),
            _ => {}
        }
    }
}

/// Reads the rows of a table up to its end.
fn fill(
    sheet: &mut Sheet,
    content: &mut Content<impl BufRead>,
    limits: &Limits,
) -> Result<(), Box<Problem>> {
    let mut next_row = 0_u32;
    let mut row_count = 1;
    let mut row = Row::default();
    loop {
        match content.next()? {
            Event::Start(element) => match element.local_name().as_ref() {
                "table-row" => {
                    row_count = count(&element, "number-rows-repeated")?;
                    row = Row::default();
                }
                "table-cell" => {
                    let attributes = attributes(&element)?;
                    let text = content.paragraphs("table-cell")?;
                    row.add(attributes, text, limits)?;
                }
                "covered-table-cell" => {
                    let count = count(&element, "number-columns-repeated")?;
                    content.skip("covered-table-cell")?;
                    row.width = row.width.saturating_add(count);
                }
                "table-row-group" | "table-rows" | "table-header-rows" => {}
                other => {
                    let other = other.to_owned();
                    content.skip(&other)?;
                }
            },
            Event::Empty(element) => match element.local_name().as_ref() {
                "table-row" => {
                    next_row = next_row.saturating_add(count(&element, "number-rows-repeated")?);
                }
                "table-cell" => row.add(attributes(&element)?, String::new(), limits)?,
                "covered-table-cell" => {
                    let count = count(&element, "number-columns-repeated")?;
                    row.width = row.width.saturating_add(count);
                }
                _ => {}
            },
            Event::End(element) => match element.local_name().as_ref() {
                "table-row" => {
                    row.write(sheet, next_row, row_count, limits)?;
                    next_row = next_row.saturating_add(row_count);
                }
                "table" => return Ok(()),
                _ => {}
            },
            Event::Eof => return Err(unreadable("the sheet ends in the middle")),
            _ => {}
        }
    }
}

impl Row {
    /// Adds a cell with the text of its paragraphs.
    fn add(
        &mut self,
        attributes: Attributes,
        text: String,
        limits: &Limits,
    ) -> Result<(), Box<Problem>> {
        let column = self.width;
        let count = attributes.count;
        self.width = self.width.saturating_add(count);
        if let Some(value) = value(attributes, text)? {
            if self.cells.len() as u64 >= limits.columns {
                return Err(
                    limits::passed("the number of columns", "columns", limits.columns).into()
                );
            }
            self.cells.push(Entry { column, count, value });
        }
        Ok(())
    }

    fn write(
        &self,
        sheet: &mut Sheet,
        first: u32,
        count: u32,
        limits: &Limits,
    ) -> Result<(), Box<Problem>> {
        if self.cells.is_empty() {
            return Ok(());
        }
        if u64::from(count) > limits.repeated_rows {
            let what =
                format!("the number of times that row {} is repeated", first.saturating_add(1));
            return Err(limits::passed(&what, "repeated_rows", limits.repeated_rows).into());
        }
        let most = usize::try_from(limits.columns).unwrap_or(usize::MAX).saturating_add(1);
        for row in (first..).take(count as usize) {
            for entry in &self.cells {
                // One column beyond the limit is enough to be told of it.
                for column in (entry.column..).take((entry.count as usize).min(most)) {
                    entry.value.write(sheet, row, column)?;
                }
            }
        }
        Ok(())
    }
}

impl Value {
    fn write(&self, sheet: &mut Sheet, row: u32, column: u32) -> Result<(), Box<Problem>> {
        match self {
            Value::Text(text) => sheet.cell(row, column, Cell::Text(text)),
            Value::Number(value, meaning) => sheet.number(row, column, *value, *meaning),
            Value::Date(date) => sheet.cell(row, column, Cell::Date { date: *date }),
            Value::Truth(truth) => sheet.cell(row, column, Cell::Truth(*truth)),
            Value::Error(text) => sheet.cell(row, column, Cell::Error(text)),
        }
    }
}

fn value(attributes: Attributes, text: String) -> Result<Option<Value>, Box<Problem>> {
    let number = |meaning| {
        let number = attributes.value.parse();
        let number = number.map_err(|_| unreadable(format!("`{}` is no number", attributes.value)));
        number.map(|number| Some(Value::Number(number, meaning)))
    };
    match attributes.kind.as_str() {
        _ if attributes.is_error => Ok(Some(Value::Error(text))),
        "float" | "currency" => number(Meaning::Plain),
        "percentage" => number(Meaning::Percent),
        "boolean" => Ok(Some(Value::Truth(attributes.value == "true"))),
        // A date may have a time behind it: `2027-03-15T18:00:00`.
        "date" => match attributes.value.get(..10).and_then(|day| day.parse().ok()) {
            Some(date) => Ok(Some(Value::Date(date))),
            None => Ok(Some(Value::Text(attributes.value))),
        },
        "time" => Ok(Some(Value::Text(time(&attributes.value)))),
        _ => {
            let text = attributes.text.unwrap_or(text);
            let is_error =
                attributes.has_formula && text.starts_with('#') && text.ends_with(['!', '?', 'A']);
            Ok(match () {
                () if text.is_empty() => None,
                () if is_error => Some(Value::Error(text)),
                () => Some(Value::Text(text)),
            })
        }
    }
}

/// Returns a duration such as `PT36H00M00S` as `36:00`, or as it is if it has another form.
fn time(duration: &str) -> String {
    let seconds = || {
        let (hours, rest) = duration.strip_prefix("PT")?.split_once('H')?;
        let (minutes, rest) = rest.split_once('M')?;
        let (seconds, _) =
            rest.strip_suffix('S')?.split_once('.').unwrap_or((rest.strip_suffix('S')?, ""));
        let [hours, minutes, seconds] =
            [hours, minutes, seconds].map(|text| text.parse::<i64>().ok());
        hours?.checked_mul(3600)?.checked_add(minutes?.checked_mul(60)?)?.checked_add(seconds?)
    };
    let mut text = duration.to_owned();
    if let Some(seconds) = seconds() {
        number::write_time(&mut text, seconds);
    }
    text
}

fn attributes(element: &BytesStart<'_>) -> Result<Attributes, Box<Problem>> {
    let mut found = Attributes { count: 1, ..Attributes::default() };
    for attribute in element.attributes() {
        let attribute = attribute.map_err(|error| damaged(&error))?;
        let value = || {
            let value = attribute.normalized_value(quick_xml::XmlVersion::Explicit1_0);
            value.map(std::borrow::Cow::into_owned).map_err(|error| damaged(&error))
        };
        match attribute.key.as_ref() {
            "office:value-type" => found.kind = value()?,
            "calcext:value-type" => found.is_error = value()? == "error",
            "office:value" | "office:date-value" | "office:time-value" | "office:boolean-value" => {
                found.value = value()?;
            }
            "office:string-value" => found.text = Some(value()?),
            "table:formula" => found.has_formula = true,
            "table:number-columns-repeated" => found.count = parsed_count(&value()?)?,
            _ => {}
        }
    }
    Ok(found)
}

fn count(element: &BytesStart<'_>, name: &str) -> Result<u32, Box<Problem>> {
    attribute(element, name)?.map_or(Ok(1), |text| parsed_count(&text))
}

fn parsed_count(text: &str) -> Result<u32, Box<Problem>> {
    text.parse().map_err(|_| unreadable(format!("`{text}` is no count")))
}

/// Returns an attribute by its name without prefix.
fn attribute(element: &BytesStart<'_>, name: &str) -> Result<Option<String>, Box<Problem>> {
    for attribute in element.attributes() {
        let attribute = attribute.map_err(|error| damaged(&error))?;
        if attribute.key.local_name().as_ref() == name {
            let value = attribute.normalized_value(quick_xml::XmlVersion::Explicit1_0);
            return value.map(|value| Some(value.into_owned())).map_err(|error| damaged(&error));
        }
    }
    Ok(None)
}

fn damaged(error: &dyn std::error::Error) -> Box<Problem> {
    unreadable(format!("its content is damaged: {error}"))
}

impl<R: BufRead> Content<R> {
    fn next(&mut self) -> Result<Event<'static>, Box<Problem>> {
        self.buffer.clear();
        let event =
            self.reader.read_event_into(&mut self.buffer).map_err(|error| damaged(&error))?;
        Ok(event.into_owned())
    }

    /// Passes over an element whose start was read.
    fn skip(&mut self, name: &str) -> Result<(), Box<Problem>> {
        let mut depth = 1;
        while depth > 0 {
            match self.next()? {
                Event::Start(element) if element.local_name().as_ref() == name => depth += 1,
                Event::End(element) if element.local_name().as_ref() == name => depth -= 1,
                Event::Eof => return Err(unreadable("the sheet ends in the middle")),
                _ => {}
            }
        }
        Ok(())
    }

    /// Reads the paragraphs of a cell up to its end, one per line. Remarks and drawings in the cell have paragraphs too,
    /// which are not its text.
    fn paragraphs(&mut self, cell: &str) -> Result<String, Box<Problem>> {
        let mut text = String::new();
        let mut depth = 0;
        let mut paragraph_count = 0;
        loop {
            match self.next()? {
                Event::Start(element) => match element.local_name().as_ref() {
                    "p" if depth == 0 => {
                        if paragraph_count > 0 {
                            text.push('\n');
                        }
                        paragraph_count += 1;
                        depth += 1;
                    }
                    "span" | "a" if depth > 0 => depth += 1,
                    other => {
                        let other = other.to_owned();
                        self.skip(&other)?;
                    }
                },
                Event::Empty(element) if depth > 0 => match element.local_name().as_ref() {
                    "s" => {
                        let count = count(&element, "c")? as usize;
                        text.extend(std::iter::repeat_n(' ', count.min(1000)));
                    }
                    "tab" => text.push('\t'),
                    "line-break" => text.push('\n'),
                    _ => {}
                },
                Event::Empty(element) if element.local_name().as_ref() == "p" => {
                    paragraph_count += 1;
                }
                Event::Text(content) if depth > 0 => text.push_str(&content.xml10_content()),
                Event::CData(content) if depth > 0 => text.push_str(&content.xml10_content()),
                Event::GeneralRef(reference) if depth > 0 => {
                    let letter = reference.resolve_char_ref().map_err(|error| damaged(&error))?;
                    match letter {
                        Some(letter) => text.push(letter),
                        None => text.push_str(
                            quick_xml::escape::resolve_predefined_entity(&reference).unwrap_or(""),
                        ),
                    }
                }
                Event::End(element) if depth == 0 && element.local_name().as_ref() == cell => {
                    return Ok(text);
                }
                Event::End(_) => depth -= 1,
                Event::Eof => return Err(unreadable("the sheet ends in the middle")),
                _ => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_become_times() {
        for (duration, expected) in [
            ("PT00H45M00S", "0:45"),
            ("PT36H00M07S", "36:00:07"),
            ("PT1H2M3.5S", "1:02:03"),
            ("P1D", "P1D"),
            ("", ""),
        ] {
            assert_eq!(time(duration), expected);
        }
    }
}
