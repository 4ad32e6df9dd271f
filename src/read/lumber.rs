//! Nominal and dressed sizes of softwood lumber.

use crate::model::Nominal;
use crate::quantity::Length;

/// Nominal inches with the dressed size, dry, in 64ths of an inch; thicknesses.
///
/// Source: American Softwood Lumber Standard PS 20, table of sizes for boards and dimension lumber. The rows 5/4, 6/4
/// and 3 are from memory.
const THICKNESSES: &[(&str, i64, i64)] = &[
    ("1", 64, 48),
    ("5/4", 80, 64),
    ("1-1/4", 80, 64),
    ("6/4", 96, 80),
    ("1-1/2", 96, 80),
    ("2", 128, 96),
    ("3", 192, 160),
    ("4", 256, 224),
];

/// Nominal inches with the dressed size, dry, in 64ths of an inch; widths.
///
/// Source: as above. The row 5 is from memory.
const WIDTHS: &[(&str, i64, i64)] = &[
    ("2", 128, 96),
    ("3", 192, 160),
    ("4", 256, 224),
    ("5", 320, 288),
    ("6", 384, 352),
    ("8", 512, 464),
    ("10", 640, 592),
    ("12", 768, 720),
];

/// Returns the sizes of a nominal size such as `2x3`, if PS 20 knows it.
pub(super) fn nominal(text: &str) -> Option<Nominal> {
    let plain: String = text
        .chars()
        .filter(|letter| !letter.is_whitespace() && !matches!(letter, '"' | '\u{2033}'))
        .map(|letter| if matches!(letter, 'X' | '\u{d7}' | '*') { 'x' } else { letter })
        .collect();
    let (thickness, width) = plain.split_once('x')?;
    let find = |sizes: &[(&str, i64, i64)], name: &str| {
        sizes.iter().find(|(nominal, _, _)| *nominal == name).map(|&(_, size, dressed)| {
            let inches =
                |count| Length::from_inches(count, 64).expect("64ths are whole nanometers");
            (inches(size), inches(dressed))
        })
    };
    let (thickness, dressed_thickness) = find(THICKNESSES, thickness)?;
    let (width, dressed_width) = find(WIDTHS, width)?;
    Some(Nominal { thickness, width, dressed_thickness, dressed_width })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Ratio;

    #[track_caller]
    fn check(
        text: &str,
        thickness: (i64, i64),
        width: (i64, i64),
        board_feet_per_foot: (i128, i128),
    ) {
        let nominal = nominal(text).expect("PS 20 has the size");
        assert_eq!(Some(nominal.dressed_thickness), Length::from_inches(thickness.0, thickness.1));
        assert_eq!(Some(nominal.dressed_width), Length::from_inches(width.0, width.1));
        let rate = nominal.board_feet_rate() * Length::FOOT.to_ratio();
        assert_eq!(Some(rate), Ratio::new(board_feet_per_foot.0, board_feet_per_foot.1));
    }

    // Source: PS 20 dressed sizes, dry; board feet are nominal thickness times nominal width over twelve.
    #[test]
    fn dressed_sizes_and_board_feet_follow_ps_20() {
        check("1x2", (3, 4), (3, 2), (1, 6));
        check("1x3", (3, 4), (5, 2), (1, 4));
        check("1x4", (3, 4), (7, 2), (1, 3));
        check("1x6", (3, 4), (11, 2), (1, 2));
        check("2x2", (3, 2), (3, 2), (1, 3));
        check("2x3", (3, 2), (5, 2), (1, 2));
        check("2 X 4", (3, 2), (7, 2), (2, 3));
        check("2x6", (3, 2), (11, 2), (1, 1));
        check("2x8", (3, 2), (29, 4), (4, 3));
        check("2x10", (3, 2), (37, 4), (5, 3));
        check("2x12", (3, 2), (45, 4), (2, 1));
        check("4x4", (7, 2), (7, 2), (4, 3));
    }

    #[test]
    fn other_sizes_are_unknown() {
        assert_eq!(nominal("2x7"), None);
        assert_eq!(nominal("2"), None);
        assert_eq!(nominal("ax b"), None);
    }
}
