//! What can be bought to be cut, and what cutting the plans of a pool together saves.

use std::collections::BTreeSet;

use rayon::iter::{IntoParallelRefIterator, ParallelIterator};

use crate::explode::What;
use crate::model::ItemId;
use crate::model::PlanId;
use crate::model::SizeId;
use crate::nest;
use crate::nest::{Ending, Instance, Layout, Nest, Piece, Stock};
use crate::orders::Setting;
use crate::orders::buying::Buyer;
use crate::orders::cutting::shelf::Shelf;
use crate::orders::cutting::{Wanted, instance, width_of};
use crate::orders::gross::Series;
use crate::orders::planned::Gain;
use crate::quantity::Length;
use crate::quantity::Ratio;

/// The sizes that can be bought, as stocks of a nest.
pub(super) struct Buyable {
    pub(super) stocks: Vec<(SizeId, Stock)>,
    /// Whether their costs are money; measures if not.
    is_priced: bool,
}

/// Returns the sizes that can be bought: those with a price, or by their measure if none has one above zero. What the
/// shelf has ordered of a size is no longer available.
pub(super) fn buyable(
    setting: &Setting<'_>,
    buyer: &Buyer<'_>,
    id: ItemId,
    week: usize,
    shelf: Option<&Shelf>,
) -> Buyable {
    let book = setting.book;
    let item = book.item(id);
    let costs: Vec<(SizeId, Option<Ratio>)> =
        book.sizes_of(id).iter().map(|size| (*size, buyer.cost_of_one(*size, week))).collect();
    let is_priced =
        costs.iter().any(|(_, cost)| cost.as_ref().is_some_and(|cost| *cost > Ratio::ZERO));
    let mut stocks: Vec<(SizeId, Stock)> = Vec::new();
    for (id_of_size, cost) in costs {
        let size = &book.sizes[id_of_size.index()];
        let Some(length) = size.length else { continue };
        let cost = match cost {
            Some(cost) if is_priced => cost,
            None if is_priced => continue,
            _ => What::Whole(id_of_size).measure(book, id),
        };
        let available = match shelf {
            Some(shelf) => shelf.left_to_order(book, id_of_size),
            None => size.available.map(u64::from),
        };
        if available == Some(0) {
            continue;
        }
        let width = width_of(item, size.width);
        // Of one size from several vendors the cheapest is nested, as far as it lasts; who sells it is decided when it is
        // bought.
        let beats = |a: &Stock, b: &Stock| {
            (a.length, a.width) == (b.length, b.width) && a.available.is_none() && a.cost <= b.cost
        };
        let stock = Stock { length, width, cost, available };
        if !stocks.iter().any(|(_, known)| beats(known, &stock)) {
            stocks.retain(|(_, known)| !beats(&stock, known));
            stocks.push((id_of_size, stock));
        }
    }
    Buyable { stocks, is_priced }
}

/// What each plan asks for alone, rounded up for itself.
pub(super) fn alone(series: &[Series], weeks: usize) -> Vec<(Option<PlanId>, Wanted)> {
    let plans: BTreeSet<Option<PlanId>> = series.iter().map(|series| series.plan).collect();
    let of_plan = |plan: Option<PlanId>| {
        let own: Vec<Series> =
            series.iter().filter(|series| series.plan == plan).cloned().collect();
        (plan, Wanted::new(&own, weeks))
    };
    plans.into_iter().map(of_plan).collect()
}

/// What comparing pooled cutting with cutting each plan alone came to.
#[derive(Default)]
pub(super) struct Compared {
    pub(super) gain: Option<Gain>,
    /// First weeks of the pools that were found to be cheaper cut plan by plan.
    pub(super) apart: BTreeSet<usize>,
}

/// Pieces to cut from new stock, with what that takes.
struct Bought {
    pieces: Vec<Piece>,
    run: Length,
    count: u64,
    cost: Ratio,
}

/// Compares cutting the plans of each pool together with cutting each alone, from new stock.
///
/// A pool can always be cut plan by plan, so where the search finds nothing as cheap for all together, that is taken.
pub(super) fn gain(
    setting: &Setting<'_>,
    id: ItemId,
    series: &[Series],
    pools: &[(usize, usize)],
) -> Compared {
    let weeks = setting.weeks.count;
    if !setting.compares || series.iter().all(|other| other.plan == series[0].plan) {
        return Compared::default();
    }
    let item = setting.book.item(id);
    let buyer = Buyer::new(setting.book, id, setting.weeks, setting.as_of);
    let together = Wanted::new(series, weeks);
    let alone = alone(series, weeks);
    let mut is_priced = true;
    let mut asked: Vec<Option<Instance>> = Vec::new();
    let mut pieces: Vec<(Vec<Piece>, Length)> = Vec::new();
    for (week, count) in pools {
        let buyable = buyable(setting, &buyer, id, *week, None);
        is_priced &= buyable.is_priced;
        let stocks: Vec<Stock> = buyable.stocks.into_iter().map(|(_, stock)| stock).collect();
        for wanted in std::iter::once(&together).chain(alone.iter().map(|(_, wanted)| wanted)) {
            let (to_cut, run) = wanted.to_cut(*week, *count);
            let is_any = (!to_cut.is_empty() || run > Length::ZERO) && !stocks.is_empty();
            asked
                .push(is_any.then(|| instance(setting, item, stocks.clone(), to_cut.clone(), run)));
            pieces.push((to_cut, run));
        }
    }
    // Weeks are often alike; each nest is searched for once.
    let mut distinct: Vec<&Instance> = Vec::new();
    for instance in asked.iter().flatten() {
        if !distinct.contains(&instance) {
            distinct.push(instance);
        }
    }
    let nest = |instance: &&Instance| nest::nest(instance, setting.nest, setting.watch);
    let nests: Vec<Nest> = distinct.par_iter().map(nest).collect();
    let bought = |(instance, (pieces, run)): (&Option<Instance>, (Vec<Piece>, Length))| {
        let Some(instance) = instance else {
            return Bought { pieces, run, count: 0, cost: Ratio::ZERO };
        };
        let at = distinct.iter().position(|known| *known == instance);
        let nest = &nests[at.expect("every instance is among the distinct ones")];
        let count = nest.stock_counts(instance).iter().sum();
        Bought { pieces, run, count, cost: nest.cost.clone() }
    };
    let mut bought = asked.iter().zip(pieces).map(bought);
    let mut next = || bought.next().expect("each pool is asked for together and plan by plan");
    let mut gain = Gain {
        alone: 0,
        together: 0,
        cost: [Ratio::ZERO, Ratio::ZERO],
        plans: alone.iter().filter_map(|(plan, _)| *plan).collect(),
    };
    let mut apart = BTreeSet::new();
    for (week, _) in pools {
        let pooled = next();
        let parts: Vec<Bought> = alone.iter().map(|_| next()).collect();
        let cost: Ratio = parts.iter().map(|part| part.cost.clone()).sum();
        let sizes: u64 = parts.iter().map(|part| part.count).sum();
        gain.alone += sizes;
        gain.cost[0] += &cost;
        if (&cost, sizes) < (&pooled.cost, pooled.count) && is_covered(&pooled, &parts) {
            apart.insert(*week);
            gain.together += sizes;
            gain.cost[1] += &cost;
        } else {
            gain.together += pooled.count;
            gain.cost[1] += &pooled.cost;
        }
    }
    // Plans are rounded up in other weeks than their sum is, so single pools may differ by what is left over from
    // earlier ones; the whole need not.
    if (&gain.cost[0], gain.alone) < (&gain.cost[1], gain.together) {
        gain.together = gain.alone;
        gain.cost[1] = gain.cost[0].clone();
    }
    if !is_priced {
        gain.cost = [Ratio::ZERO, Ratio::ZERO];
    }
    Compared { gain: Some(gain), apart }
}

/// Tells whether the plans alone cut all that they need together.
fn is_covered(pooled: &Bought, parts: &[Bought]) -> bool {
    let run: Ratio = parts.iter().map(|part| part.run.to_ratio()).sum();
    let counts = |piece: &Piece| -> u64 {
        let all = parts.iter().flat_map(|part| &part.pieces);
        all.filter(|other| is_same(piece, other)).map(|piece| piece.count).sum()
    };
    pooled.run.to_ratio() <= run && pooled.pieces.iter().all(|piece| piece.count <= counts(piece))
}

fn is_same(a: &Piece, b: &Piece) -> bool {
    (a.length, a.width, a.may_turn, a.edges) == (b.length, b.width, b.may_turn, b.edges)
}

/// Cuts the pieces of an instance plan by plan, each from what the plans before it left; nothing if that leaves any
/// unplaced, or if there is a run, which belongs to no plan.
pub(super) fn apart(
    setting: &Setting<'_>,
    instance: &Instance,
    by_plan: &[Vec<Piece>],
) -> Option<Nest> {
    if instance.run > Length::ZERO {
        return None;
    }
    let mut stocks = instance.stocks.clone();
    let mut left: Vec<u64> = instance.pieces.iter().map(|piece| piece.count).collect();
    let mut all = Nest {
        layouts: Vec::new(),
        unplaced: Vec::new(),
        cost: Ratio::ZERO,
        bound: nest::Bound {
            cost: Ratio::ZERO,
            stocks: 0,
            rule: nest::BoundRule::Any,
            method: "area",
        },
        ending: Ending::Effort,
    };
    for (position, own) in by_plan.iter().enumerate() {
        let is_last = position + 1 == by_plan.len();
        let mut pieces: Vec<Piece> = Vec::new();
        let mut places: Vec<usize> = Vec::new();
        for (place, piece) in instance.pieces.iter().enumerate() {
            let asked = own.iter().find(|other| is_same(piece, other)).map_or(0, |own| own.count);
            let count = if is_last { left[place] } else { asked.min(left[place]) };
            if count > 0 {
                left[place] -= count;
                pieces.push(Piece { count, ..piece.clone() });
                places.push(place);
            }
        }
        if pieces.is_empty() {
            continue;
        }
        let kept: Vec<usize> =
            (0..stocks.len()).filter(|stock| stocks[*stock].available != Some(0)).collect();
        let part = Instance {
            stocks: kept.iter().map(|stock| stocks[*stock].clone()).collect(),
            pieces,
            ..instance.clone()
        };
        let nest = nest::nest(&part, setting.nest, setting.watch);
        for mut layout in nest.layouts {
            layout.stock = kept[layout.stock];
            for placement in &mut layout.placements {
                placement.piece = places[placement.piece];
            }
            if let Some(available) = &mut stocks[layout.stock].available {
                *available = available.saturating_sub(layout.repeat);
            }
            layout.join(&mut all.layouts);
        }
        if !nest.unplaced.is_empty() {
            return None;
        }
        all.cost += &nest.cost;
    }
    all.layouts.sort_by(|a, b| {
        let key = |layout: &Layout| (std::cmp::Reverse(layout.repeat), layout.stock);
        key(a).cmp(&key(b)).then_with(|| a.placements.cmp(&b.placements))
    });
    Some(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    use jiff::civil::date;

    use crate::model::Book;
    use crate::model::Edges;
    use crate::model::Week;
    use crate::nest::check;
    use crate::nest::{Kind, Placement, Rest};
    use crate::orders::Pool;
    use crate::orders::demand::Weeks;
    use crate::watch::Silent;

    fn pieces(sizes: &[(i64, u64)]) -> Vec<Piece> {
        let piece = |(inches, count): &(i64, u64)| Piece {
            length: Length::from_ratio(&(Length::INCH.to_ratio() * Ratio::from(*inches))).unwrap(),
            width: Length::ZERO,
            count: *count,
            may_turn: false,
            edges: Edges::None,
        };
        sizes.iter().map(piece).collect()
    }

    /// Cuts sticks of 96 in plan by plan; two of them are there for nothing.
    fn cut_apart(all: &[(i64, u64)], by_plan: &[&[(i64, u64)]]) -> (Instance, Option<Nest>) {
        let book = Book::default();
        let setting = Setting {
            book: &book,
            weeks: Weeks { first: Week::of(date(2027, 3, 1)), count: 1 },
            as_of: date(2027, 3, 1),
            pool: Pool::Week,
            compares: true,
            nest: nest::Options::default(),
            watch: &Silent,
            stock: Vec::new(),
        };
        let length = pieces(&[(96, 1)])[0].length;
        let stock = |cost: i128, available: Option<u64>| Stock {
            length,
            width: Length::ZERO,
            cost: Ratio::whole(cost),
            available,
        };
        let stocks = vec![stock(0, Some(2)), stock(4, None)];
        let instance = Instance::new(Kind::Linear, stocks, pieces(all));
        let by_plan: Vec<Vec<Piece>> = by_plan.iter().map(|own| pieces(own)).collect();
        let nest = apart(&setting, &instance, &by_plan);
        (instance, nest)
    }

    #[test]
    fn plans_cut_one_by_one_share_what_is_there_and_miss_no_piece() {
        // Three sticks for the first plan, two for the second: two of the five are there.
        let all = [(60, 4), (30, 5)];
        let (instance, nest) = cut_apart(&all, &[&[(60, 3), (30, 2)], &[(60, 1), (30, 3)]]);
        let nest = nest.unwrap();
        assert_eq!(nest.cost, Ratio::whole(12));
        assert_eq!(nest.stock_counts(&instance), [2, 3]);
        // What a nest says of its bound is the pool's to say.
        let bound = nest::nest(&instance, nest::Options::default(), &Silent).bound;
        assert_eq!(check::check(&instance, &Nest { bound, ..nest }), Ok(()));
    }

    #[test]
    fn layouts_of_two_plans_that_part_their_waste_otherwise_are_one() {
        let inches = |inches: i64| Length::from_inches(inches, 1).unwrap();
        let rest = |x: i64, length: i64| Rest {
            x: inches(x),
            y: Length::ZERO,
            length: inches(length),
            width: Length::ZERO,
        };
        let layout = |offcuts: Vec<Rest>, repeat: u64| Layout {
            stock: 0,
            repeat,
            placements: vec![Placement {
                piece: 0,
                x: Length::ZERO,
                y: Length::ZERO,
                is_turned: false,
            }],
            splices: Vec::new(),
            offcuts,
            taken: inches(60),
        };
        let mut layouts = Vec::new();
        layout(vec![rest(60, 36)], 2).join(&mut layouts);
        layout(vec![rest(60, 20), rest(80, 16)], 3).join(&mut layouts);
        assert_eq!(layouts, [layout(vec![rest(60, 36)], 5)]);
    }

    #[test]
    fn what_plans_round_up_too_much_is_cut_once() {
        // Each plan alone rounds half a piece up; together they need one.
        let (instance, nest) = cut_apart(&[(60, 1)], &[&[(60, 1)], &[(60, 1)]]);
        assert_eq!(nest.unwrap().stock_counts(&instance), [1, 0]);
    }

    #[test]
    fn a_piece_that_fits_nowhere_leaves_the_pool_as_it_is() {
        let (_, nest) = cut_apart(&[(97, 1)], &[&[(97, 1)], &[]]);
        assert_eq!(nest, None);
    }
}
