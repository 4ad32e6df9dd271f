//! Hostile texts: whatever a book calls its things, a document stays one document with one script.

use super::*;
use crate::render::report::{Cell, Column, Showing, Table};

/// What people and attackers write into cells.
const HOSTILE: [&str; 18] = [
    "<script>alert(1)</script>",
    "</script><script>alert(1)</script>",
    "</style><img src=x onerror=alert(1)>",
    "</title></svg><svg onload=alert(1)>",
    "\"><b onmouseover=alert(1)>",
    "' onfocus='alert(1)' autofocus='",
    "<!-- <script>",
    "-->",
    "]]>",
    "<![CDATA[",
    "&lt;script&gt; &amp; &#60;",
    "{{ 7 * 7 }}{% include \"x\" %}",
    "=cmd|' /C calc'!A0",
    "a\u{0}b\u{8}c\u{1B}d\u{FFFE}",
    "\u{202E}gnp.exe\u{202D}\u{2066}x",
    "\r\nContent-Type: text/html",
    "javascript:alert(1)",
    "wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwww",
];

fn table(text: &str) -> Table {
    let cell = || Cell { shown: text.to_owned(), plain: text.to_owned() };
    let column = |is_number| Column {
        title: text.to_owned(),
        is_number,
        showing: Showing::Always,
        is_summed: false,
    };
    Table {
        title: text.to_owned(),
        columns: vec![column(false), column(true)],
        rows: vec![vec![cell(), cell()]],
        totals: vec![vec![cell(), cell()]],
        below: vec![text.to_owned()],
    }
}

/// Returns a document in which a text stands wherever a book's text can.
fn document_of(text: &str) -> String {
    let bar = |value| charts::Bar { name: text.to_owned(), value };
    let point = charts::Point { label: text.to_owned(), across: 1, up: 2 };
    let axes = charts::Axes { across: text, up: text };
    let chart = |svg: Option<String>| Block::Chart { title: text.to_owned(), svg: svg.unwrap() };
    let mut pen = svg::Pen::default();
    pen.text("m", [0, 0], svg::Figure::text(text));
    pen.turned("", [0, 0], svg::Figure::weight(text, "1".to_owned()));
    let blocks = vec![
        Block::Heading(text.to_owned()),
        Block::Text(text.to_owned()),
        Block::List(vec![text.to_owned()]),
        Block::Table(view::view(&table(text), "t".to_owned()).unwrap().heated()),
        Block::Drawing(pen.finish(text.to_owned(), "side", [10, 10])),
        chart(charts::bars(text, &[bar(1)])),
        chart(charts::bridge(text, &bar(5), &[bar(-1)], text)),
        chart(charts::scatter(text, &axes, &[point])),
    ];
    let document = Document {
        kind: "Build report",
        title: text.to_owned(),
        heading: vec![text.to_owned()],
        length_unit: text.to_owned(),
        other_length: "mm",
        weight_unit: text.to_owned(),
        other_weight: "kg",
        sections: vec![Section { id: "summary", title: "Summary", blocks }],
        is_paged: false,
        policy: policy(),
        style: STYLE,
        script: SCRIPT,
    };
    clean::clean(&document.render().unwrap())
}

/// Returns the names of all elements of a document as a browser finds them: what follows `<`, outside of the script.
fn elements(text: &str) -> Vec<String> {
    let end = text.rfind("<script>").unwrap();
    let names = text[..end].split('<').skip(1).map(|rest| {
        rest.chars()
            .take_while(|sign| sign.is_ascii_alphanumeric() || "/!".contains(*sign))
            .collect()
    });
    names.collect()
}

#[test]
fn no_text_of_a_book_becomes_markup() {
    let harmless = elements(&document_of("plain"));
    for text in HOSTILE {
        let document = document_of(text);
        assert_eq!(elements(&document), harmless, "{text:?} changes the document");
        assert_eq!(document.matches("<script").count(), 1, "{text:?}");
        let is_kept = |sign: char| {
            matches!(sign, '\n' | '\t')
                || !(sign.is_control() || ('\u{202A}'..='\u{202E}').contains(&sign))
        };
        assert!(document.chars().all(is_kept), "{text:?}");
    }
}

#[test]
fn the_policy_allows_the_script_that_is_there_and_nothing_else() {
    let document = document_of("plain");
    let from = document.find("<script>").unwrap() + "<script>".len();
    let script = &document[from..document.find("</script>").unwrap()];
    let hash = STANDARD.encode(Sha256::digest(script));
    assert!(policy().starts_with("default-src 'none'; "));
    // The template escapes the quotes of the policy.
    let policy = document.split("Content-Security-Policy\" content=\"").nth(1).unwrap();
    let policy = policy.split('"').next().unwrap().replace("&#39;", "'");
    assert!(policy.contains(&format!("script-src 'sha256-{hash}'")), "{policy}");
    for outside in ["http:", "https:", "src=", "@import", "url(h", "<link", "<iframe", "<object"] {
        let found = document.replace("http://www.w3.org/2000/svg", "");
        assert!(!found.contains(outside), "{outside} leads outside");
    }
}

#[test]
fn style_and_script_cannot_end_early() {
    assert!(!STYLE.contains("</") && !SCRIPT.contains("</") && !SCRIPT.contains("<!--"));
}
