//! Every link from one page to another leads somewhere.

use std::path::Path;

use super::{pages, read, tree};

#[test]
fn every_relative_link_leads_to_a_file_or_heading() {
    let pages = pages();
    assert!(pages.len() > 10, "only {} pages found", pages.len());
    let faults: Vec<String> = pages.iter().flat_map(|page| dead_links(page, &read(page))).collect();
    assert!(faults.is_empty(), "links that lead nowhere:\n{}", faults.join("\n"));
}

#[test]
fn a_link_that_leads_nowhere_is_found() {
    let text = "[a](book.md) [b](none.md)\n[c](book.md#cells), [d](#there), [e](#here)\n# There\n`[f](none)` [g](https://x.y)\n";
    let expected = ["docs/x.md:1: none.md", "docs/x.md:2: #here"];
    assert_eq!(dead_links("docs/x.md", text), expected);
    assert_eq!(dead_links("docs/x.md", "[c](book.md#nothing)"), ["docs/x.md:1: book.md#nothing"]);
    assert_eq!(dead_links("docs/x.md", "[c](../README.md)"), ["docs/x.md:1: ../README.md"]);
}

#[test]
fn every_page_of_docs_stands_in_the_table_of_contents() {
    let contents = read("docs/SUMMARY.md");
    let listed: Vec<String> = links(&contents)
        .map(|(_, link)| format!("docs/{link}"))
        .chain(["docs/SUMMARY.md".to_owned()])
        .collect();
    for page in pages().iter().filter(|page| page.starts_with("docs/")) {
        assert!(listed.contains(page), "docs/SUMMARY.md lacks {page}");
    }
}

/// Returns the links of a page that lead to no file, or to a heading that the file lacks; those of docs also where they leave
/// the site that is made of them.
fn dead_links(page: &str, text: &str) -> Vec<String> {
    let folder = Path::new(page).parent().unwrap();
    links(text)
        .filter(|(_, link)| !link.contains("://"))
        .filter(|(_, link)| {
            let (file, heading) = link.split_once('#').unwrap_or((link, ""));
            let target = tree().join(folder).join(file);
            let headings = || {
                let text = if file.is_empty() {
                    text.to_owned()
                } else {
                    read(folder.join(file).to_str().unwrap())
                };
                text.lines().any(|line| line.starts_with('#') && anchor(line) == heading)
            };
            let is_there = file.is_empty() || target.exists();
            let leaves_site = folder == Path::new("docs") && file.starts_with("../");
            !is_there || leaves_site || !heading.is_empty() && !headings()
        })
        .map(|(line, link)| format!("{page}:{line}: {link}"))
        .collect()
}

/// Returns the links of a page with their lines, without what stands in blocks or spans of code.
fn links(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut is_code = false;
    (1..).zip(text.lines()).flat_map(move |(number, line)| {
        is_code ^= line.starts_with("```");
        let line = if is_code || line.starts_with("    ") { "" } else { line };
        // A link ends what stands between two brackets; what lies in a span of code has an odd number of ticks before it.
        line.match_indices("](").filter_map(move |(at, _)| {
            let is_text = line[..at].matches('`').count() % 2 == 0;
            let link = line[at + 2..].split(')').next()?;
            is_text.then_some((number, link))
        })
    })
}

/// Returns the name that a heading is linked by.
fn anchor(heading: &str) -> String {
    heading
        .trim_start_matches('#')
        .trim()
        .to_lowercase()
        .chars()
        .filter(|letter| letter.is_alphanumeric() || " -_".contains(*letter))
        .map(|letter| if letter == ' ' { '-' } else { letter })
        .collect()
}
