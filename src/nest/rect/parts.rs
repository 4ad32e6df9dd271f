//! Many sizes at once: parted into groups that are searched one by one.
//!
//! Every pattern looks at every size, and there are about as many patterns as sizes, so work would grow with their square.
//! So the sizes, by area, are dealt out to groups like cards; each group is searched by itself, with limited stock shared out by
//! area. What one group leaves out is packed into what the others leave of the stock. Work grows with the sizes.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use rayon::iter::{IntoParallelIterator, ParallelIterator};

use crate::nest::bound;
use crate::nest::random::Random;
use crate::nest::rect::build::{self, Group, Grouped};
use crate::nest::rect::packing::{Weights, in_dearest};
use crate::nest::rect::problem::Problem;
use crate::nest::rect::{self, Searched};
use crate::nest::{Kind, Options};
use crate::quantity::Length;
use crate::watch::Watch;

/// Sizes of a group, about.
const GROUP: usize = 3_000;
/// Most sizes that are searched as one.
pub(super) const MOST: usize = 4_000;
/// Steps that packing what is left out may take.
const LAST: u64 = 1_000_000;

/// Searches the groups of a problem of many sizes.
pub(super) fn search(
    problem: &Problem,
    weights: &Weights,
    kind: Kind,
    options: Options,
    watch: &dyn Watch,
    random: &mut Random,
) -> Searched {
    let count = problem.items.len();
    let groups = count.div_ceil(GROUP);
    let dealt: Vec<Vec<usize>> =
        (0..groups).map(|group| (group..count).step_by(groups).collect()).collect();
    let parts: Vec<(Problem, Random)> = parts(problem, weights, &dealt)
        .into_iter()
        .map(|part| (part, Random::new(random.next())))
        .collect();
    let found: Vec<Searched> = parts
        .into_par_iter()
        .map(|(part, mut random)| {
            let goal = in_dearest(&part, &bound::sheets(&part, Length::ZERO).cost);
            rect::search(&part, &Weights::new(&part), kind, goal, options, watch, &mut random)
        })
        .collect();
    let mut whole = Searched {
        best: Grouped { groups: Vec::new(), out: vec![0; count], cost: 0.0 },
        bound: None,
        is_stopped: false,
    };
    for (found, items) in found.into_iter().zip(&dealt) {
        whole.is_stopped |= found.is_stopped;
        whole.best.cost += found.best.cost;
        for Group { mut sheet, repeat } in found.best.groups {
            sheet.rename(items);
            whole.best.groups.push(Group { sheet, repeat });
        }
        for (item, out) in items.iter().zip(found.best.out) {
            whole.best.out[*item] = out;
        }
    }
    if whole.best.out.iter().any(|out| *out > 0) {
        complete(problem, weights, &mut whole.best, random);
    }
    whole
}

/// Returns the problem of each group; limited bins are shared out by area.
fn parts(problem: &Problem, weights: &Weights, dealt: &[Vec<usize>]) -> Vec<Problem> {
    let area = |items: &[usize]| -> f64 {
        items.iter().map(|item| problem.items[*item].count as f64 * weights.items[*item]).sum()
    };
    let all: f64 = dealt.iter().map(|items| area(items)).sum();
    let mut before = 0.0;
    let mut parts = Vec::new();
    for (group, items) in dealt.iter().enumerate() {
        let after = if group + 1 == dealt.len() { all } else { before + area(items) };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share of a count"
        )]
        let up_to = |amount: u64, area: f64| {
            if area >= all { amount } else { ((amount as f64 * area / all) as u64).min(amount) }
        };
        let mut part = Problem {
            items: items.iter().map(|item| problem.items[*item].clone()).collect(),
            ..problem.clone()
        };
        for bin in &mut part.bins {
            let share = |amount: u64| up_to(amount, after).saturating_sub(up_to(amount, before));
            bin.available = bin.available.map(share);
        }
        before = after;
        parts.push(part);
    }
    parts
}

/// Packs what is out into the bins that are left.
fn complete(problem: &Problem, weights: &Weights, best: &mut Grouped, random: &mut Random) {
    let left = build::left(problem, best.taken());
    let out = std::mem::take(&mut best.out);
    let rest = build::rest(problem, weights, out, left, 0.0, &mut { LAST }, random);
    best.groups.extend(rest.groups);
    best.out = rest.out;
    best.cost += rest.cost;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Edges;
    use crate::nest::check::check;
    use crate::nest::{Instance, Piece, Stock, nest};
    use crate::quantity::Ratio;
    use crate::watch::Silent;

    #[test]
    fn many_sizes_share_what_stock_there_is() {
        let inches = |count, below| Length::from_inches(count, below).unwrap();
        let piece = |index: i64| Piece {
            length: inches(80 + index % 50, 8),
            width: inches(40 + index / 50, 8),
            count: 3,
            may_turn: index % 2 == 0,
            edges: Edges::None,
        };
        let stock = |length, cost, available| Stock {
            length: inches(length, 1),
            width: inches(48, 1),
            cost: Ratio::whole(cost),
            available,
        };
        let instance = Instance::new(
            Kind::Guillotine,
            vec![stock(96, 30, None), stock(120, 36, Some(30))],
            (0..4_100).map(piece).collect(),
        );
        let options = Options { effort: 1, seed: 1 };
        let found = nest(&instance, options, &Silent);
        assert_eq!((check(&instance, &found), found.unplaced.len()), (Ok(()), 0));
        assert_eq!(found.stock_counts(&instance)[1], 30);
        let percent = (found.gap() * Ratio::whole(100)).floor();
        assert!(percent < Ratio::whole(15), "{percent} percent above the bound");

        let mut scarce = instance;
        scarce.stocks[0].available = Some(20);
        let found = nest(&scarce, options, &Silent);
        assert_eq!((check(&scarce, &found), found.unplaced.is_empty()), (Ok(()), false));
        assert_eq!(found.stock_counts(&scarce), [20, 30]);
    }
}
