//! Matches headers to the columns of the schema: tables as they stand in, [`Grid`]s with known columns out.
//!
//! The table `columns` maps a plant's own headers. Every header ends up as a column, as an attribute, or in a finding.

use std::cell::Cell as Flag;
use std::collections::BTreeMap;

use crate::diag::Diagnostic;
use crate::diag::Place;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::diag::did_you_mean;
use crate::diag::is_slip;
use crate::diag::nearest;
use crate::diag::squashed;
use crate::model::RowRef;
use crate::model::Source;
use crate::model::SourceId;
use crate::quantity::text::DecimalSign;
use crate::read::Cell;
use crate::read::Table;
use crate::read::findings::Findings;
use crate::read::findings::Order;
use crate::read::schema;
use crate::read::schema::Column;
use crate::read::schema::TABLES;
use crate::read::schema::TableSchema;
use crate::read::table::FIRST_ROW;

/// A column of a grid, by its position in the schema.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct At(pub(super) usize);

/// A table whose columns are known.
#[derive(Debug)]
pub(super) struct Grid<'a> {
    /// The cells.
    pub(super) table: &'a Table,
    /// What the table is.
    pub(super) schema: &'static TableSchema,
    /// Position of the table in the schema.
    pub(super) rank: usize,
    /// The table among the book's sources.
    pub(super) source: SourceId,
    /// For each column of the schema, where it stands in the table.
    columns: Vec<Option<usize>>,
    /// Columns the schema does not know, with their names.
    pub(super) extras: Vec<(usize, String)>,
}

impl<'a> Grid<'a> {
    /// Returns the column of this canonical name.
    pub(super) fn at(&self, name: &str) -> At {
        let position = self.schema.columns.iter().position(|column| column.name == name);
        At(position.expect("the code asks for columns of the schema"))
    }

    /// Returns the column's schema.
    pub(super) fn column(&self, at: At) -> &'static Column {
        &self.schema.columns[at.0]
    }

    /// Tells whether the table has the column.
    pub(super) fn has(&self, at: At) -> bool {
        self.columns[at.0].is_some()
    }

    /// Returns a cell; empty where the table lacks the column.
    pub(super) fn cell(&self, row: usize, at: At) -> Cell<'a> {
        self.columns[at.0].map_or(Cell::Empty, |index| self.table.cell(row, index))
    }

    /// Returns where a cell is, by the header the user gave it.
    pub(super) fn place(&self, row: usize, at: Option<At>) -> Place {
        let Some(at) = at else { return self.table.place(row, None) };
        match self.columns[at.0] {
            Some(index) => self.table.place(row, Some(index)),
            None => self.table.place(row, None).at(self.column(at).name),
        }
    }

    /// Returns the order of a cell among all findings.
    pub(super) fn order(&self, row: usize, at: Option<At>) -> Order {
        let column = at.map_or(0, |at| self.columns[at.0].map_or(usize::MAX, |index| index + 1));
        Order { table: self.rank, row: self.table.row_number(row), column }
    }

    /// Returns the decimal sign of the file.
    pub(super) fn sign(&self) -> DecimalSign {
        if self.table.has_decimal_comma { DecimalSign::Comma } else { DecimalSign::Point }
    }

    /// Returns the row for the book.
    pub(super) fn row_ref(&self, row: usize) -> RowRef {
        RowRef { source: self.source, row: self.table.row_number(row) }
    }

    /// Returns the columns that are there, with their position in the table.
    pub(super) fn present(&self) -> impl Iterator<Item = (At, usize)> {
        let columns = self.columns.iter().enumerate();
        columns.filter_map(|(position, index)| index.map(|index| (At(position), index)))
    }

    fn source(&self) -> Source {
        let mut headers: Vec<(String, String)> = self
            .present()
            .map(|(at, index)| (self.column(at).name.to_owned(), self.table.headers[index].clone()))
            .collect();
        let extras = self.extras.iter();
        headers
            .extend(extras.map(|(index, name)| (name.clone(), self.table.headers[*index].clone())));
        Source {
            table: self.schema.name.to_owned(),
            file: self.table.file.clone(),
            sheet: self.table.sheet.clone(),
            headers,
        }
    }
}

/// The grids of a book, one at most for each table of the schema, in its order; and where they came from.
#[derive(Debug)]
pub(super) struct Grids<'a> {
    /// The grids.
    pub(super) list: Vec<Grid<'a>>,
    /// Their files and sheets.
    pub(super) sources: Vec<Source>,
}

impl<'a> Grids<'a> {
    /// Returns the grid of a table, if the book has it.
    pub(super) fn find(&self, name: &str) -> Option<&Grid<'a>> {
        self.list.iter().find(|grid| grid.schema.name == name)
    }
}

/// A row of the table `columns`.
struct Mapping {
    /// Position of the table it is for; all tables if not said.
    rank: Option<usize>,
    /// The plant's header, as the mapping gives it.
    name: String,
    /// The same, squashed.
    header: String,
    /// Name of the column it stands for; none to skip it.
    target: Option<String>,
    /// Where the mapping stands.
    place: Place,
    order: Order,
    was_used: Flag<bool>,
}

/// Matches tables to the schema and their headers to its columns.
pub(super) fn grids<'a>(tables: &'a [Table], findings: &Findings) -> Grids<'a> {
    let mut slots: Vec<Option<&Table>> = vec![None; TABLES.len()];
    for table in tables {
        let Some(rank) = schema::find(&table.name).and_then(rank_of) else {
            let known = TABLES.iter().map(|known| known.name);
            let hint = nearest(&table.name, known).map(did_you_mean);
            let problem = Problem::TableUnknown { table: table.name.clone() };
            findings.about_table(0, Severity::Warning, Some(table.whole()), problem, hint);
            continue;
        };
        if let Some(first) = slots[rank] {
            let problem = Problem::TableTwice {
                table: TABLES[rank].name.to_owned(),
                first: first.whole().to_string(),
            };
            findings.about_table(rank, Severity::Error, Some(table.whole()), problem, None);
            continue;
        }
        slots[rank] = Some(table);
    }
    for (rank, schema) in TABLES.iter().enumerate() {
        if schema.is_required && slots[rank].is_none() {
            let problem = Problem::TableMissing { table: schema.name.to_owned() };
            findings.about_table(rank, Severity::Error, None, problem, None);
        }
    }
    let present: Vec<(usize, &Table)> = slots
        .iter()
        .enumerate()
        .filter_map(|(rank, table)| table.map(|table| (rank, table)))
        .collect();
    let mappings = present
        .iter()
        .zip(0..)
        .find(|((rank, _), _)| TABLES[*rank].name == "columns")
        .map_or(Vec::new(), |((rank, table), source)| {
            // What is wrong with its own columns is told when it is read with the others.
            let untold = Findings::within(0);
            mappings(&grid(table, *rank, SourceId(source), &[], &untold), findings)
        });
    let list: Vec<Grid> = present
        .iter()
        .zip(0..)
        .map(|((rank, table), source)| {
            let own: &[Mapping] = if TABLES[*rank].name == "columns" { &[] } else { &mappings };
            grid(table, *rank, SourceId(source), own, findings)
        })
        .collect();
    for mapping in mappings.iter().filter(|mapping| !mapping.was_used.get()) {
        let problem =
            Problem::NameUnknown { what: "header".to_owned(), name: mapping.name.clone() };
        findings.push(
            mapping.order,
            Diagnostic::new(Severity::Warning, mapping.place.clone(), problem),
        );
    }
    let sources = list.iter().map(Grid::source).collect();
    Grids { list, sources }
}

/// How many columns that no table defines are looked at for slips; a table has no more that are typed by hand.
const MOST_SLIPS: usize = 200;

fn rank_of(schema: &TableSchema) -> Option<usize> {
    TABLES.iter().position(|table| table.name == schema.name)
}

fn mappings(grid: &Grid, findings: &Findings) -> Vec<Mapping> {
    let (table, header, target) = (grid.at("table"), grid.at("header"), grid.at("column"));
    if !grid.has(header) || !grid.has(target) {
        return Vec::new();
    }
    let text = |row, at| match grid.cell(row, at) {
        Cell::Text(text) | Cell::Number { text, .. } => text,
        _ => "",
    };
    let mut mappings: Vec<Mapping> = Vec::new();
    let mut known: BTreeMap<(Option<usize>, String), usize> = BTreeMap::new();
    for row in 0..grid.table.row_count() {
        let fault = |at, problem, hint: Option<String>| {
            let finding = Diagnostic::error(grid.place(row, Some(at)), problem);
            findings.push(grid.order(row, Some(at)), Diagnostic { hint, ..finding });
        };
        let rank = match text(row, table) {
            "" => None,
            name => {
                let Some(rank) = schema::find(name).and_then(rank_of) else {
                    let known = TABLES.iter().map(|known| known.name);
                    let hint = nearest(name, known).map(did_you_mean);
                    let problem =
                        Problem::NameUnknown { what: "table".to_owned(), name: name.to_owned() };
                    fault(table, problem, hint);
                    continue;
                };
                Some(rank)
            }
        };
        let (from, to) = (text(row, header), text(row, target));
        if from.is_empty() || to.is_empty() {
            fault(if from.is_empty() { header } else { target }, Problem::CellMissing, None);
            continue;
        }
        let is_known =
            |schema: &TableSchema| schema.name == "plans" || schema.position(to).is_some();
        let fits = match rank {
            Some(rank) => is_known(&TABLES[rank]),
            None => TABLES.iter().any(|schema| schema.position(to).is_some()),
        };
        if to != "-" && !fits {
            let tables =
                TABLES.iter().enumerate().filter(|(at, _)| rank.is_none_or(|rank| rank == *at));
            let known =
                tables.flat_map(|(_, schema)| schema.columns.iter().map(|column| column.name));
            let hint = nearest(to, known).map(did_you_mean);
            fault(
                target,
                Problem::NameUnknown { what: "column".to_owned(), name: to.to_owned() },
                hint,
            );
            continue;
        }
        let key = squashed(from);
        if let Some(first) = known.get(&(rank, key.clone())).map(|at: &usize| &mappings[*at]) {
            let problem = Problem::DefinedTwice {
                what: "header".to_owned(),
                name: from.to_owned(),
                first: Place { column: None, ..first.place.clone() },
            };
            fault(header, problem, None);
            continue;
        }
        known.insert((rank, key.clone()), mappings.len());
        mappings.push(Mapping {
            rank,
            name: from.to_owned(),
            header: key,
            target: (to != "-").then(|| to.to_owned()),
            place: grid.place(row, Some(header)),
            order: grid.order(row, Some(header)),
            was_used: Flag::new(false),
        });
    }
    mappings
}

fn grid<'a>(
    table: &'a Table,
    rank: usize,
    source: SourceId,
    mappings: &[Mapping],
    findings: &Findings,
) -> Grid<'a> {
    let schema = &TABLES[rank];
    let mut grid = Grid {
        table,
        schema,
        rank,
        source,
        columns: vec![None; schema.columns.len()],
        extras: Vec::new(),
    };
    let by_header: BTreeMap<(Option<usize>, &str), &Mapping> =
        mappings.iter().map(|it| ((it.rank, it.header.as_str()), it)).collect();
    let mut extras: BTreeMap<String, usize> = BTreeMap::new();
    for (index, header) in table.headers.iter().enumerate() {
        let place = Place { column: Some(header.clone()), ..table.whole() };
        let tell = |severity, place, problem| {
            let order = Order { table: rank, row: 0, column: index + 1 };
            findings.push(order, Diagnostic::new(severity, place, problem));
        };
        let key = squashed(header);
        // What stands in columns without a header was told when the table was read.
        if key.is_empty() {
            continue;
        }
        // A mapping for this table comes before one for all.
        let mapping = by_header.get(&(Some(rank), key.as_str()));
        let mapping = mapping.or_else(|| by_header.get(&(None, key.as_str()))).copied();
        let name = match mapping {
            None => header.as_str(),
            Some(mapping) => {
                mapping.was_used.set(true);
                let Some(target) = &mapping.target else {
                    let problem = Problem::ColumnIgnored {
                        column: header.clone(),
                        reason: "table `columns` says so".to_owned(),
                    };
                    tell(Severity::Note, table.whole(), problem);
                    continue;
                };
                target
            }
        };
        let first = match schema.position(name) {
            Some(position) => grid.columns[position].replace(index),
            None => {
                grid.extras.push((index, name.to_owned()));
                let first = *extras.entry(squashed(name)).or_insert(index);
                Some(first).filter(|first| *first != index)
            }
        };
        if let Some(first) = first {
            let problem = Problem::ColumnTwice {
                column: schema.position(name).map_or(name, |at| schema.columns[at].name).to_owned(),
                first: table.headers[first].clone(),
            };
            tell(Severity::Error, place, problem);
        }
    }
    for (position, column) in schema.columns.iter().enumerate() {
        if column.is_required && grid.columns[position].is_none() {
            let extras = grid.extras.iter().map(|(_, name)| name.as_str());
            let hint = nearest(column.name, extras).map(|header| {
                format!("if that is column `{header}`, rename it or map it in table `columns`")
            });
            let has_no_column = grid.columns.iter().all(Option::is_none);
            let hint = hint.or_else(|| has_no_column.then(|| FIRST_ROW.to_owned()));
            let problem = Problem::ColumnMissing {
                table: schema.name.to_owned(),
                column: column.name.to_owned(),
            };
            findings.about_table(rank, Severity::Error, Some(table.whole()), problem, hint);
        }
    }
    misspelled(&grid, findings);
    grid
}

/// Tells columns that no table defines, but that are one slip away from one that the table lacks: what they hold would be
/// left out.
fn misspelled(grid: &Grid, findings: &Findings) {
    for (index, name) in grid.extras.iter().take(MOST_SLIPS) {
        let missing = grid.schema.columns.iter().zip(&grid.columns);
        let missing = missing.filter(|(column, index)| index.is_none() && !column.is_required);
        let meant = missing.map(|(column, _)| column.name).find(|column| is_slip(name, column));
        let Some(meant) = meant else { continue };
        let place =
            Place { column: Some(grid.table.headers[*index].clone()), ..grid.table.whole() };
        let problem = Problem::ColumnUnknown { table: grid.schema.name.to_owned() };
        let order = Order { table: grid.rank, row: 0, column: index + 1 };
        let finding = Diagnostic::new(Severity::Warning, place, problem);
        findings.push(order, finding.with_hint(did_you_mean(meant)));
    }
}
