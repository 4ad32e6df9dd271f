//! Indented bills: a level per line instead of a parent.
//!
//! A line of the lowest level is a plan, option or assembly of its own; any other line belongs to the nearest line above
//! it with a lower level. Where an assembly is indented again, its lines are compared with the first time: if they are
//! the same they are left out, else it is an error.

use indexmap::IndexMap;

use crate::diag::Problem;
use crate::read::book::Build;
use crate::read::cells::Row;
use crate::read::cells::text_of;
use crate::read::columns::Grid;
use crate::read::names::folded;
use crate::read::numbers::number;

/// A line of an indented bill, by positions of rows.
pub(super) struct Child {
    /// The line.
    pub(super) row: usize,
    /// The line of its parent.
    pub(super) parent: usize,
}

/// Returns the lines of an indented bill with their parents, in input order.
pub(super) fn children(build: &Build, grid: &Grid) -> Vec<Child> {
    let rows: Vec<Row> = build.reader.rows(grid).collect();
    let levels: Vec<Option<u32>> = rows.iter().map(|row| level(*row)).collect();
    let Some(root) = levels.iter().flatten().min().copied() else { return Vec::new() };
    let mut open: Vec<(u32, usize)> = Vec::new();
    let mut lines_of: Vec<Vec<usize>> = vec![Vec::new(); rows.len()];
    for (row, level) in levels.iter().enumerate() {
        let Some(level) = *level else { continue };
        while open.last().is_some_and(|(above, _)| *above >= level) {
            open.pop();
        }
        let at = grid.at("level");
        match open.last() {
            Some((above, parent)) => {
                if *above + 1 < level {
                    rows[row].error(at, Problem::LevelSkipped { from: *above, to: level });
                }
                lines_of[*parent].push(row);
            }
            None if level > root => rows[row].error(at, Problem::NoParentAbove),
            None => {}
        }
        open.push((level, row));
    }
    let mut children = Vec::new();
    let mut first_by_name: IndexMap<String, usize> = IndexMap::new();
    for (parent, lines) in lines_of.iter().enumerate().filter(|(_, lines)| !lines.is_empty()) {
        let at = grid.at("component");
        let name = rows[parent].text(at);
        match first_by_name.get(&folded(&name)) {
            None => {
                first_by_name.insert(folded(&name), parent);
                children.extend(lines.iter().map(|&row| Child { row, parent }));
            }
            Some(&first) => {
                let is_same = lines.len() == lines_of[first].len()
                    && lines.iter().zip(&lines_of[first]).all(|(a, b)| is_same(grid, *a, *b));
                if !is_same {
                    let problem = Problem::DefinedTwice {
                        what: "assembly".to_owned(),
                        name: name.into_owned(),
                        first: grid.place(first, None),
                    };
                    let hint = "its lines differ from those it has there".to_owned();
                    rows[parent].error_with_hint(at, problem, Some(hint));
                }
            }
        }
    }
    children.sort_by_key(|child| child.row);
    children
}

/// Levels may be led by points, as in `..2`.
fn level(row: Row) -> Option<u32> {
    let at = row.at("level");
    let text = row.needed_text(at)?;
    let value = number(text.trim_start_matches(['.', ' ']), false);
    let level =
        value.and_then(|value| value.to_integer()).and_then(|value| u32::try_from(value).ok());
    if level.is_none() {
        row.out_of_range(at, "a whole number, not below zero");
    }
    level
}

fn is_same(grid: &Grid, a: usize, b: usize) -> bool {
    let level = grid.at("level");
    let known = grid.present().filter(|(at, _)| *at != level).map(|(_, index)| index);
    let mut columns = known.chain(grid.extras.iter().map(|(index, _)| *index));
    columns.all(|index| {
        let (a, b) = (grid.table.cell(a, index), grid.table.cell(b, index));
        a == b || text_of(a).to_lowercase() == text_of(b).to_lowercase()
    })
}
