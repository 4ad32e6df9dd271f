//! Draws a bridge in letters: how each effect leads from the old total to the new.

/// Columns of the drawing, beside the labels.
const COLUMNS: i128 = 48;

/// Returns one line per step: the total that it begins with, what each effect adds or takes, the total it leads to.
///
/// The columns reach from the least total on the way to the greatest, so that lengths compare among the steps of one
/// bridge only.
pub(super) fn waterfall(begin: (&str, i128), steps: &[(&str, i128)], end: &str) -> Vec<String> {
    let totals: Vec<i128> = std::iter::once(begin.1)
        .chain(steps.iter().scan(begin.1, |total, (_, step)| {
            *total += step;
            Some(*total)
        }))
        .collect();
    let (least, most) = (totals.iter().min(), totals.iter().max());
    let (least, most) = (least.copied().unwrap_or(0), most.copied().unwrap_or(0));
    let span = (most - least).max(1);
    let column = |total: i128| {
        let column = ((total - least) * (COLUMNS - 1) * 2 + span) / (span * 2);
        usize::try_from(column).expect("a total lies between the least and the greatest")
    };
    let labels = steps.iter().map(|(label, _)| *label).chain([begin.0, end]);
    let width = labels.map(|label| label.chars().count()).max().unwrap_or(0);
    let line =
        |label: &str, from: usize, drawn: &str| format!("  {label:width$}  {:from$}{drawn}", "");
    let mut lines = vec![line(begin.0, column(begin.1), "┃")];
    for ((label, _), ends) in steps.iter().zip(totals.windows(2)) {
        let (from, to) = (column(ends[0]), column(ends[1]));
        let drawn = if ends[0] <= ends[1] {
            format!("{}▶", "━".repeat(to - from))
        } else {
            format!("◀{}", "━".repeat(from - to))
        };
        lines.push(line(label, from.min(to), &drawn));
    }
    let last = totals.last().copied().unwrap_or(begin.1);
    lines.push(line(end, column(last), "┃"));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_lead_from_total_to_total() {
        let drawn = waterfall(("old", 100), &[("price", 47), ("yield", -20), ("mix", 0)], "new");
        let space = |count: usize| " ".repeat(count);
        let expected = [
            "  old    ┃".to_owned(),
            format!("  price  {}▶", "━".repeat(47)),
            format!("  yield  {}◀{}", space(27), "━".repeat(20)),
            format!("  mix    {}▶", space(27)),
            format!("  new    {}┃", space(27)),
        ];
        assert_eq!(drawn, expected);
        assert_eq!(waterfall(("old", 5), &[], "new"), ["  old  ┃", "  new  ┃"]);
    }
}
