//! Names of sheets: made from titles, short, and no two alike.

/// A sheet's name has at most so many UTF-16 units.
const LONGEST: usize = 31;

/// Returns a name for the sheet of each title, in the same order.
///
/// A long title loses what follows its last comma, colon or parenthesis, until it fits; the signs a name cannot hold
/// become spaces; names that would be alike, also but for case, are numbered. `taken` are names of further sheets.
pub(super) fn names<'a>(titles: impl Iterator<Item = &'a str>, taken: &[&str]) -> Vec<String> {
    // A spreadsheet keeps this name for itself.
    let mut known = vec!["history".to_owned()];
    known.extend(taken.iter().map(|name| name.to_lowercase()));
    titles
        .map(|title| {
            let name = short(title);
            let numbered = (2_u32..).map(|number| {
                let end = format!(" {number}");
                format!("{}{end}", cut(&name, LONGEST - end.len()))
            });
            let name = std::iter::once(name.clone())
                .chain(numbered)
                .find(|name| !known.contains(&name.to_lowercase()))
                .expect("there are more numbers than sheets");
            known.push(name.to_lowercase());
            name
        })
        .collect()
}

/// Returns the name that the rows of a sheet are known by: `t3_Plans`. It begins with a letter, holds letters, digits and
/// `_` only, and cannot be taken for a cell.
pub(super) fn range(sheet: &str, number: usize) -> String {
    let kept = |sign: char| if sign.is_ascii_alphanumeric() { sign } else { '_' };
    format!("t{number}_{}", sheet.chars().map(kept).collect::<String>())
}

fn short(title: &str) -> String {
    let mut rest = title;
    let mut name = clean(rest);
    while name.encode_utf16().count() > LONGEST {
        let Some(end) = rest.rfind([',', ':', '(']).filter(|end| *end > 0) else { break };
        rest = &rest[..end];
        // A parenthesis that is cut in two goes as a whole.
        if let Some(open) = rest.rfind('(').filter(|open| *open > 0 && !rest[*open..].contains(')'))
        {
            rest = &rest[..open];
        }
        name = clean(rest);
    }
    let name = cut(&name, LONGEST);
    if name.is_empty() { "Table".to_owned() } else { name.to_owned() }
}

/// Replaces what a name cannot hold by spaces, and several spaces by one.
fn clean(text: &str) -> String {
    let is_free = |sign: char| !sign.is_control() && !"[]:*?/\\'\u{FFFE}\u{FFFF}".contains(sign);
    let text: String = text.chars().map(|sign| if is_free(sign) { sign } else { ' ' }).collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Cuts a text to so many UTF-16 units.
fn cut(text: &str, longest: usize) -> &str {
    let mut length = 0;
    let end = text.char_indices().find(|(_, sign)| {
        length += sign.len_utf16();
        length > longest
    });
    end.map_or(text, |(end, _)| text[..end].trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(titles: &[&str], expected: &[&str]) {
        assert_eq!(names(titles.iter().copied(), &["About", "Notes"]), expected);
    }

    #[test]
    fn a_long_title_loses_its_last_parts() {
        check(
            &[
                "Plans, one unit each",
                "Sedge 18: from stock sizes, a lot of 10 units each",
                "Sedge 18: PLY-19-32-TG (T&G floor plywood, 19/32 category), kerf 1/8 in",
                "Sedge 18 (heat, cold, snow, rain, wind): one unit needs",
                "(a title that is one long parenthesis, and more)",
            ],
            &[
                "Plans, one unit each",
                "Sedge 18 from stock sizes",
                "Sedge 18 PLY-19-32-TG",
                "Sedge 18",
                "(a title that is one long paren",
            ],
        );
    }

    #[test]
    fn names_hold_no_forbidden_sign_and_are_never_alike() {
        check(
            &["a/b[c]*?\\:'d'", "A B C D", "", "\u{1}", "about", "History", "'x'"],
            &["a b c d", "A B C D 2", "Table", "Table 2", "about 2", "History 2", "x"],
        );
        let long = "x".repeat(40);
        let shorter = "x".repeat(29);
        check(&[&long, &long], &[&"x".repeat(31), &format!("{shorter} 2")]);
        // A sign beyond the basic plane counts twice.
        let wide = "𝔸".repeat(20);
        check(&[&wide], &[&"𝔸".repeat(15)]);
    }
}
