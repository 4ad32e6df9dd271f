//! The most that pieces cut from one bin by guillotine cuts can be worth.
//!
//! Idea: dynamic programming over the sums that pieces can reach along each axis: a rectangle is a piece, or is cut at
//! such a sum into two (Gilmore and Gomory, "The theory and computation of knapsack functions", 1966; the sums after Herz,
//! "Recursive computational procedure for two-dimensional stock cutting", 1972). Counts limit the sums, but not how often
//! a piece is used, and a factory edge is not asked for, so the worth is never too low. Exact in whole numbers. One bin
//! costs as many steps as sums along times sums across times sums.

use crate::nest::rect::problem::{Fit, Problem};

/// What guillotine cuts of one bin look at: the sums that pieces reach.
pub(in crate::nest) struct Cuts {
    pub(in crate::nest) bin: usize,
    along: Sums,
    across: Sums,
}

/// The sums along one axis.
struct Sums {
    all: Vec<i64>,
    /// For each pair of sums, the position of the largest sum not above their difference.
    less: Vec<Vec<usize>>,
}

/// The most that each rectangle of a bin is worth.
pub(in crate::nest) struct Worths<'a> {
    cuts: &'a Cuts,
    best: Vec<i64>,
}

/// How the most is got out of a rectangle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::nest) enum Part {
    /// It is worth nothing.
    Waste,
    /// One piece lies in it.
    Piece { item: usize, fit: Fit },
    /// It is cut across its length at so much.
    Along(i64),
    /// It is cut along its length at so much.
    Across(i64),
}

/// Returns the most that pieces in a bin are worth, or nothing if that takes more than `work` steps, which it takes off.
pub(super) fn most(problem: &Problem, bin: usize, worth: &[i64], work: &mut u64) -> Option<i64> {
    let cuts = Cuts::new(problem, bin, *work)?;
    *work = work.checked_sub(cuts.steps())?;
    Some(cuts.worths(problem, worth).most())
}

impl Cuts {
    /// Returns what the cuts of a bin look at, or nothing if they take more than `work` steps.
    pub(in crate::nest) fn new(problem: &Problem, bin: usize, work: u64) -> Option<Cuts> {
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
        let cuts = Cuts { bin, along, across };
        (cuts.steps() <= work).then_some(cuts)
    }

    /// Returns how many steps one round of worths takes.
    pub(in crate::nest) fn steps(&self) -> u64 {
        let (rows, columns) = (self.along.all.len(), self.across.all.len());
        (rows * columns * (rows + columns)) as u64 / 4
    }

    /// Returns what rectangles are worth, from what each item is.
    pub(in crate::nest) fn worths(&self, problem: &Problem, worth: &[i64]) -> Worths<'_> {
        let (along, across) = (&self.along, &self.across);
        let (rows, columns) = (along.all.len(), across.all.len());
        let mut best = vec![0_i64; rows * columns];
        for (item, worth) in problem.items.iter().zip(worth) {
            for fit in &item.fits[self.bin] {
                let known =
                    &mut best[along.position(fit.length) * columns + across.position(fit.width)];
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
        Worths { cuts: self, best }
    }
}

impl Worths<'_> {
    /// Returns the most that the whole bin is worth.
    pub(in crate::nest) fn most(&self) -> i64 {
        self.best.last().copied().unwrap_or(0)
    }

    /// Returns how the most is got out of a rectangle.
    pub(in crate::nest) fn part(
        &self,
        problem: &Problem,
        worth: &[i64],
        (length, width): (i64, i64),
    ) -> Part {
        let (along, across) = (&self.cuts.along, &self.cuts.across);
        let columns = across.all.len();
        let at = |row: usize, column: usize| self.best[row * columns + column];
        let (mut row, mut column) = (along.below(length), across.below(width));
        let most = at(row, column);
        if most == 0 {
            return Part::Waste;
        }
        // The least rectangle that is worth as much.
        while row > 0 && at(row - 1, column) == most {
            row -= 1;
        }
        while column > 0 && at(row, column - 1) == most {
            column -= 1;
        }
        for (item, (known, worth)) in problem.items.iter().zip(worth).enumerate() {
            let here = |fit: &&Fit| {
                along.position(fit.length) == row && across.position(fit.width) == column
            };
            if *worth == most
                && let Some(fit) = known.fits[self.cuts.bin].iter().find(here)
            {
                return Part::Piece { item, fit: *fit };
            }
        }
        let mut cuts = along.cuts(row);
        if let Some((cut, _)) =
            cuts.find(|(cut, less)| at(*cut, column) + at(*less, column) == most)
        {
            return Part::Along(along.all[cut]);
        }
        let mut cuts = across.cuts(column);
        let (cut, _) = cuts
            .find(|(cut, less)| at(row, *cut) + at(row, *less) == most)
            .expect("a rectangle is waste, a piece or cut in two");
        Part::Across(across.all[cut])
    }
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

    /// Returns the position of a size, which is a sum or beyond the extent.
    fn position(&self, size: i64) -> usize {
        self.all.partition_point(|sum| *sum < size)
    }

    /// Returns the position of the largest sum not above an extent.
    fn below(&self, extent: i64) -> usize {
        self.all.partition_point(|sum| *sum <= extent) - 1
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
    use crate::nest::rect::problem::Item;
    use crate::nest::{Instance, Kind, Piece, Stock};
    use crate::quantity::{Length, Ratio};

    fn problem(stock: (i64, i64), pieces: &[(i64, i64)]) -> Problem {
        turnable(stock, pieces, false)
    }

    fn turnable(stock: (i64, i64), pieces: &[(i64, i64)], may_turn: bool) -> Problem {
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
            may_turn,
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

    /// The most that pieces worth their area fill of a sheet, fixed and turned.
    fn most_area(stock: (i64, i64), pieces: &[(i64, i64)]) -> [Option<i64>; 2] {
        [false, true].map(|may_turn| {
            let problem = turnable(stock, pieces, may_turn);
            let area = |item: &Item| pieces[item.piece].0 * pieces[item.piece].1;
            let worth: Vec<i64> = problem.items.iter().map(area).collect();
            most(&problem, 0, &worth, &mut 4_000_000_000)
        })
    }

    /// The optima of instance gcut1 (Beasley 1985) for any number of pieces, as published by Cintra, Miyazawa, Wakabayashi
    /// and Xavier with "Algorithms for two-dimensional cutting stock and strip packing problems using dynamic programming and
    /// column generation" (2008).
    #[test]
    fn published_optimum_of_one_sheet_is_found() {
        let pieces = [
            (167, 184),
            (114, 118),
            (167, 152),
            (83, 140),
            (70, 86),
            (143, 166),
            (120, 160),
            (66, 148),
            (87, 141),
            (69, 165),
        ];
        assert_eq!(most_area((250, 250), &pieces), [Some(56_460), Some(58_136)]);
    }

    /// The same of gcut1 to gcut13, where the published instances lie beside the tree.
    #[test]
    fn published_optima_of_one_sheet_are_found() {
        let folder =
            concat!(env!("CARGO_MANIFEST_DIR"), "/../shared/benchmarks/2d-gcut-cgcut-ngcut-beng/");
        #[expect(clippy::disallowed_methods, reason = "a test reads its published instances")]
        let read = |name: &str| std::fs::read_to_string(format!("{folder}{name}"));
        let (Ok(instances), Ok(values)) = (read("single_sheet_value.txt"), read("best_known.csv"))
        else {
            println!("skipped: no published instances beside the tree");
            return;
        };
        let value = |name: &str, turning: &str| {
            let is_meant = |line: &&str| {
                line.starts_with(&format!("{name},one sheet; guillotine"))
                    && line.contains(&format!("; {turning},"))
            };
            let line = values.lines().find(is_meant)?;
            line.split(',').nth(2)?.parse::<i64>().ok()
        };
        let mut count = 0;
        for listed in instances.split("instance gcut").skip(1) {
            let rows: Vec<Vec<i64>> = listed
                .lines()
                .map(|line| line.split_whitespace().filter_map(|word| word.parse().ok()).collect())
                .collect();
            let name = format!("gcut{}", rows[0][0]);
            let pieces: Vec<(i64, i64)> =
                rows[1..].iter().filter(|row| row.len() > 1).map(|row| (row[0], row[1])).collect();
            // Its pieces reach so many sums that it takes too long for a test.
            if name == "gcut13" {
                continue;
            }
            let expected = ["fixed orientation", "90-degree rotation"].map(|way| value(&name, way));
            assert_eq!(most_area((rows[0][1], rows[0][2]), &pieces), expected, "{name}");
            count += 1;
        }
        assert_eq!(count, 12);
    }
}
