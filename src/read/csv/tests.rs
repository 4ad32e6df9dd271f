use super::*;
use crate::read::Limits;
use crate::read::table::tests::shown;

/// Shows a table, then its findings.
#[track_caller]
fn check(bytes: impl AsRef<[u8]>, expected: &str) {
    let mut lines = Vec::new();
    let findings = match table("bill", "bill.csv", bytes.as_ref(), &Limits::default()) {
        Ok(Checked { value, warnings }) => {
            lines.extend(value.map(|table| shown(&table)));
            warnings
        }
        Err(errors) => errors,
    };
    lines.extend(findings.iter().map(ToString::to_string));
    assert_eq!(lines.join("\n"), expected.trim_end());
}

#[test]
fn cells_are_trimmed_and_quotes_taken_off() {
    check(
        "parent, component ,quantity\nA,\"ply, 3/4\"\"\", 2 \n\"B\",9-1/2\",\n",
        "parent|component|quantity\n2: A|ply, 3/4\\\"|2\n3: B|9-1/2\\\"|",
    );
}

#[test]
fn line_ends_of_all_systems_are_read() {
    let expected = "a|b\n2: 1|2\n3: 3|4";
    for end in ["\n", "\r\n", "\r"] {
        check(["a,b", "1,2", "3,4"].join(end), expected);
        check(["a,b", "1,2", "3,4", ""].join(end), expected);
    }
}

#[test]
fn rows_go_by_the_line_they_begin_on() {
    for end in ["\n", "\r\n"] {
        let text = ["", "a,b", "", "\"x", "y\",2", " , ", "", "", "z,3"].join(end);
        let escaped = end.escape_debug().to_string();
        check(text, &format!("a|b\n4: x{escaped}y|2\n9: z|3"));
    }
    check("sep=;\r\na;b\r\n1;2\r\n", "a|b\n3: 1|2");
}

#[test]
fn rows_may_be_shorter_or_trail_empty_cells() {
    check("a,b,,\n1\n1,2,,\n1,2,,,,\n,,,\n", "a|b\n2: 1|\n3: 1|2\n4: 1|2");
}

#[test]
fn cells_without_a_header_are_named() {
    check(
        "a,,c,\n1,2,3,4\n5,6,7,\n",
        "a||c\n2: 1||3\n3: 5||7\n\
         warning: bill.csv:2: column `B` is not read: it has no header\n\
         warning: bill.csv:2: column `D` is not read: it has no header",
    );
}

#[test]
fn rows_with_more_cells_than_headers_are_refused() {
    check(
        "a,b\n1,2\n1,2,3,,\n\n1,000,5,x,\n",
        "error: bill.csv:3: 3 cells under 2 headers\n  \
         hint: a cell that holds the separator `,` is put in quotes\n\
         error: bill.csv:5: 4 cells under 2 headers\n  \
         hint: a cell that holds the separator `,` is put in quotes",
    );
    let many = format!("a\tb\n{}", "1\t2\t3\n".repeat(101));
    let found = table("bill", "bill.csv", many.as_bytes(), &Limits::default()).unwrap_err();
    assert_eq!(found.len(), 100);
    assert_eq!(
        found[99].to_string(),
        "error: bill.csv:101: 3 cells under 2 headers\n  \
         hint: a cell that holds the separator (a tab) is put in quotes"
    );
}

#[test]
fn a_quote_left_open_is_reported_where_its_row_begins() {
    let expected = "error: bill.csv:3: cannot be read: a quote is opened and never closed\n  \
                    hint: a cell that begins with a quote ends with one; inside, each quote is doubled";
    check("a,b\n1,2\n3,\"4\n5,6\n", expected);
    check("a,b\n1,2\n3,\"", expected);
    check("a,b\r\n1,2\r\n3,\"4\"\"", expected);
    check(format!("a,b\n1,2\n3,\"{}", "4\n".repeat(100_000)), expected);
    check("a,b\n1,2\n3,\"4\"", "a|b\n2: 1|2\n3: 3|4");
}

#[test]
fn decimal_commas_are_found_in_files_without_separating_commas() {
    check("a;b\n1,5;2\n", "1,5: a|b\n2: 1,5|2");
    check("a\tb\n1,5\t2\n", "1,5: a|b\n2: 1,5|2");
    check("a;b\n1.5;2\n", "a|b\n2: 1.5|2");
    check("a,b\n\"1,5\",2\n", "a|b\n2: 1,5|2");
    check(
        "a;b\n1,234;2\n",
        "1,5: a|b\n2: 1,234|2\n\
         warning: bill.csv: no number tells the decimal sign, and `1,234` on row 2 can be read both ways; the file is \
         read with a comma",
    );
}

#[test]
fn encodings_are_told_apart() {
    check(b"\xEF\xBB\xBFa,b\n1,2\n", "a|b\n2: 1|2");
    let wide: Vec<u8> =
        "\u{feff}a\tb\r\n1\t“2”\r\n".encode_utf16().flat_map(u16::to_le_bytes).collect();
    check(wide, "a|b\n2: 1|“2”");
    check(
        b"a,b\n1,28\x92 6\x94\n",
        "a|b\n2: 1|28’ 6”\nwarning: bill.csv:2: not UTF-8; read as Windows-1252",
    );
    check(
        b"PK\x03\x04\x14\0",
        "error: bill.csv: cannot be read: it is a workbook or another zip archive, not a CSV file",
    );
}

#[test]
fn files_without_cells_give_no_table() {
    check("", "");
    check("\n\n , ,\n", "");
    check("a,b\n", "a|b");
}

#[test]
fn limits_are_reported_with_their_row() {
    check(
        format!("a\n1\n{}\n", "x".repeat(131_069)),
        "error: bill.csv:3: the length of a cell in bytes is beyond the limit of 131068 (`cell_bytes`)",
    );
    check(
        "a,".repeat(16_385),
        "error: bill.csv:1: the number of columns is beyond the limit of 16384 (`columns`)",
    );
}
