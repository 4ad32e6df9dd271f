use super::*;
use crate::render::report::{Cell, Column, Showing, Table};

fn cell(text: &str) -> Cell {
    Cell { shown: text.to_owned(), plain: text.to_owned() }
}

fn column(title: &str, is_number: bool, showing: Showing) -> Column {
    Column { title: title.to_owned(), is_number, showing, is_summed: false }
}

fn table() -> Table {
    let row = |cells: [&str; 4]| cells.map(cell).to_vec();
    Table {
        title: "Cost".to_owned(),
        columns: vec![
            column("item", false, Showing::Always),
            column("description", false, Showing::IfItFits),
            column("cost USD", true, Showing::Always),
            column("line", false, Showing::Never),
        ],
        rows: vec![
            row(["PLY-18", "Floor plywood with tongue and groove", "1,208.4", "2"]),
            row(["GLUE", "Wood glue", "no price", "3"]),
        ],
        totals: vec![row(["total", "", "12.25", ""])],
        below: vec!["  Plan A > 1 x floor > 2 x PLY-18".to_owned()],
    }
}

#[track_caller]
fn check(table: Table, width: Option<usize>, expected: &str) {
    let report = Report { heading: Vec::new(), tables: vec![table], notes: Vec::new() };
    assert_eq!(text(&report, width), expected);
}

#[test]
fn figures_stand_on_their_points_and_no_line_ends_in_spaces() {
    let expected = "
Cost
item    description                           cost USD
──────────────────────────────────────────────────────
PLY-18  Floor plywood with tongue and groove  1,208.4
GLUE    Wood glue                             no price
──────────────────────────────────────────────────────
total                                            12.25
  Plan A > 1 x floor > 2 x PLY-18
";
    check(table(), None, expected);
}

#[test]
fn words_are_wrapped_where_the_width_is_small() {
    let expected = "
Cost
item    description         cost USD
────────────────────────────────────
PLY-18  Floor plywood with  1,208.4
        tongue and groove
GLUE    Wood glue           no price
────────────────────────────────────
total                          12.25
  Plan A > 1 x floor > 2 x PLY-18
";
    check(table(), Some(38), expected);
}

#[test]
fn columns_that_may_go_are_left_out_by_name() {
    let expected = "
Cost
item    cost USD
────────────────
PLY-18  1,208.4
GLUE    no price
────────────────
total      12.25
(no room for:
description)
  Plan A > 1 x
    floor > 2 x
    PLY-18
";
    check(table(), Some(20), expected);
}

#[test]
fn a_sign_that_drives_a_terminal_is_a_space() {
    let table = Table { below: vec!["red \u{1b}[31m\nnext".to_owned()], ..Table::default() };
    check(table, None, "\nred  [31m next\n");
}

#[test]
fn wide_letters_count_twice() {
    assert_eq!(folded("膠合板 膠", 6), ["膠合板", "膠"]);
    assert_eq!(folded("abcdefgh", 3), ["abc", "def", "gh"]);
}
