use std::ops::Range;

/// How one list is laid beside another.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Alignment {
    /// Positions that hold the same, in order.
    pub(super) matches: Vec<(usize, usize)>,
    /// What stands between them on both sides, where it stands on both.
    pub(super) gaps: Vec<Gap>,
}

/// Entries of both lists that stand in the same place, none of them the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Gap {
    pub(super) old: Range<usize>,
    pub(super) new: Range<usize>,
}

/// Most entries of a pair of lists, multiplied, that are aligned exactly.
const MOST_CELLS: usize = 4_000_000;

/// Lays a list beside another so that the most entries match, in order: the longest common subsequence (Wagner and
/// Fischer, The string-to-string correction problem, 1974), at the cost of the product of what is left between common
/// ends. Beyond four million the middle is one gap.
pub(super) fn align<T: PartialEq>(old: &[T], new: &[T]) -> Alignment {
    let head = old.iter().zip(new).take_while(|(one, other)| one == other).count();
    let (old_rest, new_rest) = (&old[head..], &new[head..]);
    let ends = old_rest.iter().rev().zip(new_rest.iter().rev());
    let tail = ends.take_while(|(one, other)| one == other).count();
    let (rows, columns) = (old_rest.len() - tail, new_rest.len() - tail);
    let mut matches: Vec<(usize, usize)> = (0..head).map(|index| (index, index)).collect();
    matches.extend(
        middle(&old_rest[..rows], &new_rest[..columns])
            .into_iter()
            .map(|(row, column)| (head + row, head + column)),
    );
    matches.extend((0..tail).map(|index| (head + rows + index, head + columns + index)));
    let mut gaps = Vec::new();
    let (mut old_end, mut new_end) = (0, 0);
    for (row, column) in matches.iter().copied().chain([(old.len(), new.len())]) {
        if old_end < row && new_end < column {
            gaps.push(Gap { old: old_end..row, new: new_end..column });
        }
        (old_end, new_end) = (row + 1, column + 1);
    }
    Alignment { matches, gaps }
}

fn middle<T: PartialEq>(old: &[T], new: &[T]) -> Vec<(usize, usize)> {
    let (rows, columns) = (old.len(), new.len());
    if rows.saturating_mul(columns) > MOST_CELLS {
        return Vec::new();
    }
    let width = columns + 1;
    // How long the longest common subsequence from here to both ends is.
    let mut longest = vec![0_u32; (rows + 1) * width];
    for row in (0..rows).rev() {
        for column in (0..columns).rev() {
            longest[row * width + column] = if old[row] == new[column] {
                longest[(row + 1) * width + column + 1] + 1
            } else {
                longest[(row + 1) * width + column].max(longest[row * width + column + 1])
            };
        }
    }
    let (mut row, mut column) = (0, 0);
    let mut matches = Vec::new();
    while row < rows && column < columns {
        if old[row] == new[column] {
            matches.push((row, column));
            (row, column) = (row + 1, column + 1);
        } else if longest[(row + 1) * width + column] >= longest[row * width + column + 1] {
            row += 1;
        } else {
            column += 1;
        }
    }
    matches
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(old: &str, new: &str, matches: &str, gaps: &[(&str, &str)]) {
        let letters = |text: &str| -> Vec<char> { text.chars().collect() };
        let (old, new) = (letters(old), letters(new));
        let aligned = align(&old, &new);
        let common: String = aligned.matches.iter().map(|(row, _)| old[*row]).collect();
        assert_eq!(common, matches);
        assert!(aligned.matches.iter().all(|(row, column)| old[*row] == new[*column]));
        let told: Vec<(String, String)> = aligned
            .gaps
            .iter()
            .map(|gap| {
                (old[gap.old.clone()].iter().collect(), new[gap.new.clone()].iter().collect())
            })
            .collect();
        let gaps: Vec<(String, String)> =
            gaps.iter().map(|(one, other)| ((*one).to_owned(), (*other).to_owned())).collect();
        assert_eq!(told, gaps);
    }

    #[test]
    fn what_stands_between_the_same_neighbors_is_a_gap() {
        check("abc", "abc", "abc", &[]);
        check("abc", "axc", "ac", &[("b", "x")]);
        check("abc", "abxc", "abc", &[]);
        check("abcd", "xbyd", "bd", &[("a", "x"), ("c", "y")]);
        check("ab", "xy", "", &[("ab", "xy")]);
        check("", "xy", "", &[]);
        check("abcab", "cab", "cab", &[]);
    }
}
