//! The most that pieces cut from one bin by guillotine cuts can be worth.
//!
//! Idea: dynamic programming over the sums that pieces can reach along each axis: a rectangle is a piece, or is cut at
//! such a sum into two (Gilmore and Gomory, "The theory and computation of knapsack functions", 1966; the sums after Herz,
//! "Recursive computational procedure for two-dimensional stock cutting", 1972). Counts limit the sums, but not how often
//! a piece is used, and a factory edge is not asked for, so the worth is never too low. Exact in whole numbers. One bin
//! costs as many steps as sums along times sums across times sums.

use crate::nest::rect::problem::{Fit, Problem};

/// The sums along one axis.
struct Sums {
    all: Vec<i64>,
    /// For each pair of sums, the position of the largest sum not above their difference.
    less: Vec<Vec<usize>>,
}

/// Returns the most that pieces in a bin are worth, or nothing if that takes more than `work` steps, which it takes off.
pub(super) fn most(problem: &Problem, bin: usize, worth: &[i64], work: &mut u64) -> Option<i64> {
    let stock = &problem.bins[bin];
    let sides = |side: fn(&Fit) -> i64| {
        let items = problem.items.iter();
        items
            .flat_map(|item| item.fits[bin].iter().map(move |fit| (side(fit), item.count)))
            .collect::<Vec<(i64, u64)>>()
    };
    let most = usize::try_from(work.isqrt()).unwrap_or(usize::MAX);
    let along = Sums::new(stock.length, &sides(|fit| fit.length), most)?;
    let across = Sums::new(stock.width, &sides(|fit| fit.width), most)?;
    let (rows, columns) = (along.all.len(), across.all.len());
    let steps = (rows * columns * (rows + columns)) as u64 / 4;
    *work = work.checked_sub(steps)?;
    let mut best = vec![0_i64; rows * columns];
    for (item, worth) in problem.items.iter().zip(worth) {
        for fit in &item.fits[bin] {
            let row = along.all.partition_point(|sum| *sum < fit.length);
            let column = across.all.partition_point(|sum| *sum < fit.width);
            let known = &mut best[row * columns + column];
            *known = (*known).max(*worth);
        }
    }
    for row in 0..rows {
        let (done, rest) = best.split_at_mut(row * columns);
        let line = &mut rest[..columns];
        let done_line = |row: usize| &done[row * columns..(row + 1) * columns];
        if row > 0 {
            for (most, before) in line.iter_mut().zip(done_line(row - 1)) {
                *most = (*most).max(*before);
            }
        }
        for (cut, less) in along.cuts(row) {
            let parts = done_line(cut).iter().zip(done_line(less));
            for (most, (low, high)) in line.iter_mut().zip(parts) {
                *most = (*most).max(low + high);
            }
        }
        for column in 0..columns {
            let mut most = line[column].max(if column > 0 { line[column - 1] } else { 0 });
            for (cut, less) in across.cuts(column) {
                most = most.max(line[cut] + line[less]);
            }
            line[column] = most;
        }
    }
    best.last().copied()
}

impl Sums {
    /// Returns the sums of sizes, each at most `count` times, within an extent; nothing if they are more than `most`.
    fn new(extent: i64, sizes: &[(i64, u64)], most: usize) -> Option<Sums> {
        let mut sums = vec![0];
        for (size, count) in sizes {
            let fitting = u64::try_from(extent / size).unwrap_or(0).min(*count);
            let mut last = sums.clone();
            for _ in 0..fitting {
                last = last.iter().map(|sum| sum + size).filter(|sum| *sum <= extent).collect();
                sums.extend(&last);
                if sums.len() > 16 * most {
                    return None;
                }
            }
            sums.sort_unstable();
            sums.dedup();
            if sums.len() > most {
                return None;
            }
        }
        let below = |at: i64| sums.partition_point(|sum| *sum <= at) - 1;
        let less = sums
            .iter()
            .map(|whole| {
                let cuts = sums.iter().take_while(|cut| 2 * **cut <= *whole);
                cuts.map(|cut| below(whole - cut)).collect()
            })
            .collect();
        Some(Sums { all: sums, less })
    }

    /// Returns the cuts of a sum that leave no more before than behind, each with what is behind.
    fn cuts(&self, whole: usize) -> impl Iterator<Item = (usize, usize)> {
        self.less[whole].iter().copied().enumerate().skip(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Edges;
    use crate::nest::{Instance, Kind, Piece, Stock};
    use crate::quantity::{Length, Ratio};

    fn problem(stock: (i64, i64), pieces: &[(i64, i64)]) -> Problem {
        let inches = |inches: i64| Length::from_inches(inches, 1).unwrap();
        let stock = Stock {
            length: inches(stock.0),
            width: inches(stock.1),
            cost: Ratio::ONE,
            available: None,
        };
        let pieces = pieces.iter().map(|(length, width)| Piece {
            length: inches(*length),
            width: inches(*width),
            count: 1000,
            may_turn: false,
            edges: Edges::None,
        });
        Problem::new(&Instance::new(Kind::Guillotine, vec![stock], pieces.collect()))
    }

    /// Worth their area, pieces fill the sheet where a grid of them does.
    #[test]
    fn grids_fill_the_sheet() {
        let problem = problem((96, 48), &[(32, 24), (48, 16)]);
        let most = most(&problem, 0, &[32 * 24, 48 * 16], &mut 1_000_000);
        assert_eq!(most, Some(96 * 48));
    }

    /// Of four pieces around a center, as on the blades of a wheel, no guillotine cut leaves all whole.
    #[test]
    fn wheel_holds_three_pieces() {
        let problem = problem((70, 70), &[(40, 30), (30, 40)]);
        assert_eq!(most(&problem, 0, &[1, 1], &mut 1_000_000), Some(3));
    }

    #[test]
    fn too_much_work_is_refused() {
        let problem = problem((96, 48), &[(1, 1)]);
        assert_eq!(most(&problem, 0, &[1], &mut 1000), None);
    }

    #[test]
    fn every_cut_of_a_small_sheet_is_seen() {
        let pieces = [(5, 3), (4, 4), (3, 2), (2, 5)];
        let worth = [16, 17, 6, 11];
        let problem = problem((13, 9), &pieces);
        let item_worth: Vec<i64> = problem.items.iter().map(|item| worth[item.piece]).collect();
        // Every whole position is a cut.
        let mut best = [[0_i64; 10]; 14];
        for length in 1..=13_usize {
            for width in 1..=9_usize {
                let fitting =
                    pieces.iter().zip(worth).filter(|((piece_length, piece_width), _)| {
                        usize::try_from(*piece_length).unwrap() <= length
                            && usize::try_from(*piece_width).unwrap() <= width
                    });
                let mut most = fitting.map(|(_, worth)| worth).max().unwrap_or(0);
                for cut in 1..length {
                    most = most.max(best[cut][width] + best[length - cut][width]);
                }
                for cut in 1..width {
                    most = most.max(best[length][cut] + best[length][width - cut]);
                }
                best[length][width] = most;
            }
        }
        assert_eq!(most(&problem, 0, &item_worth, &mut 1_000_000), Some(best[13][9]));
    }
}
