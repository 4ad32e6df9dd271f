use crate::diag::Diagnostic;
use crate::diag::Problem;
use crate::diag::Severity;
use crate::explode::Needs;
use crate::model::Attribute;
use crate::model::Book;
use crate::model::Component;
use crate::model::SwapRow;
use crate::model::attribute;

/// The column of bill lines that names what their material must be rated for.
const REQUIRES: &str = "requires";
/// The column of items that names what they are rated for.
const RATED: &str = "rated";

/// Returns a finding for each bill line that swaps give an item which is not rated for what the line requires.
pub(super) fn lacking(
    book: &Book,
    changed: &Book,
    needs: &Needs,
    rows: &[&SwapRow],
) -> Vec<Diagnostic> {
    let mut found: Vec<Diagnostic> = Vec::new();
    for taken in needs.instances.iter().flat_map(|instance| &instance.lines) {
        let line = changed.line(taken.line);
        let Component::Item(item) = line.component else { continue };
        let required = words(&line.attributes, REQUIRES);
        if required.is_empty() {
            continue;
        }
        // A copy of a line stands in the same row.
        let was = book.lines.iter().filter(|was| was.row == line.row).map(|was| was.component);
        if was.into_iter().any(|was| was == line.component) {
            continue;
        }
        let rated = words(&changed.item(item).attributes, RATED);
        let missing: Vec<String> =
            required.into_iter().filter(|word| !rated.contains(word)).collect();
        if missing.is_empty() {
            continue;
        }
        let brings = |row: &&&SwapRow| row.to == Some(line.component);
        let swap = rows.iter().find(brings).map_or_else(String::new, |row| row.swap.clone());
        let item = changed.item(item).name.clone();
        let problem = Problem::RatingMissing { swap, item, ratings: missing };
        let place = book.place(line.row, Some(REQUIRES));
        let finding = Diagnostic::new(Severity::Warning, place, problem);
        if !found.contains(&finding) {
            found.push(finding);
        }
    }
    found
}

/// Returns the words of a column, in lower case.
fn words(attributes: &[Attribute], name: &str) -> Vec<String> {
    let text = attribute(attributes, name).unwrap_or_default();
    let parts = text.split(|letter: char| letter.is_whitespace() || matches!(letter, ',' | ';'));
    parts.filter(|word| !word.is_empty()).map(str::to_lowercase).collect()
}
