//! Netting: from gross requirements, stock and open orders to what must be planned, period by period.
//!
//! The record of material requirements planning (APICS): projected available balance, net requirements, planned receipts.
//! Open orders count when they are due; where that is too late they are taken to be pulled in before anything new is
//! planned, and the advice says so. The balance never falls below zero, since what is missing is planned.

use crate::quantity::Ratio;

/// An open order is pushed out only by this many periods or more: a schedule that moves by a week every week would
/// otherwise have every order moved with it.
const LEAST_PUSH: usize = 2;

/// An open order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Open {
    /// Period it is due in; one past the last if it does not come before.
    pub(super) due: usize,
    /// How much; above zero.
    pub(super) quantity: Ratio,
}

/// How much is planned at once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Rule {
    /// What the period needs.
    LotForLot,
    /// Whole lots of this much.
    Lots(Ratio),
    /// What this many periods need, from the first need on; one at least.
    Periods(usize),
}

/// What is needed and there.
#[derive(Clone, Debug)]
pub(super) struct Situation<'a> {
    /// On hand at the beginning, not below zero.
    pub(super) on_hand: Ratio,
    /// Required per period.
    pub(super) gross: &'a [Ratio],
    /// Open orders in the order they are due.
    pub(super) open: &'a [Open],
    /// Kept at the end of each period.
    pub(super) safety: &'a [Ratio],
    /// How much is planned at once.
    pub(super) rule: Rule,
}

/// One item over time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Record {
    /// What is missing after stock and open orders, per period.
    pub(super) net: Vec<Ratio>,
    /// What is planned to arrive, per period.
    pub(super) planned: Vec<Ratio>,
    /// What is there at the end of each period.
    pub(super) balance: Vec<Ratio>,
    /// For each open order the period it is needed in, if that is another than it is due in.
    pub(super) moves: Vec<Move>,
}

/// What should become of an open order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Move {
    /// It is right as it is.
    Keep,
    /// It is needed in this earlier period.
    In(usize),
    /// It is not needed before this later period.
    Out(usize),
    /// It is not needed at all.
    Cancel,
}

/// What is asked of whoever buys.
pub(super) struct Wanted<'a> {
    /// Period it is needed in.
    pub(super) period: usize,
    /// Least that must arrive, by the lot rule; above zero.
    pub(super) quantity: Ratio,
    ahead: &'a Ahead<'a>,
}

impl Wanted<'_> {
    /// Returns what is needed of it, before whole lots.
    pub(super) fn needed(&self) -> &Ratio {
        match self.ahead.situation.rule {
            Rule::Lots(_) => &self.ahead.missing,
            Rule::LotForLot | Rule::Periods(_) => &self.quantity,
        }
    }

    /// Returns what further periods will need beyond the quantity wanted, per period from the next on.
    pub(super) fn later(&self) -> Vec<Ratio> {
        self.ahead.shortfalls(&(&self.quantity - &self.ahead.missing)).collect()
    }
}

/// Nets one item. `buy` says how much will really arrive, at least what is wanted.
pub(super) fn record(
    situation: &Situation<'_>,
    buy: &mut dyn FnMut(&Wanted<'_>) -> Ratio,
) -> Record {
    let periods = situation.gross.len();
    let mut dues: Vec<usize> = situation.open.iter().map(|open| open.due).collect();
    let mut record = Record {
        net: vec![Ratio::ZERO; periods],
        planned: vec![Ratio::ZERO; periods],
        balance: Vec::with_capacity(periods),
        moves: Vec::new(),
    };
    let mut balance = situation.on_hand.clone();
    for period in 0..periods {
        for (open, due) in situation.open.iter().zip(&dues) {
            if *due == period {
                balance += &open.quantity;
            }
        }
        let kept = &situation.safety[period];
        let needed = &situation.gross[period] + kept;
        while balance < needed {
            // What is ordered already comes before anything new.
            let next = (0..dues.len())
                .filter(|index| dues[*index] > period)
                .min_by_key(|index| dues[*index]);
            let Some(next) = next else { break };
            dues[next] = period;
            balance += &situation.open[next].quantity;
        }
        if balance < needed {
            let missing = &needed - &balance;
            record.net[period] = missing.clone();
            let ahead = Ahead { situation, dues: &dues, period, missing };
            let quantity = ahead.lot();
            let bought = buy(&Wanted { period, quantity, ahead: &ahead });
            balance += &bought;
            record.planned[period] = bought;
        }
        balance = balance - &situation.gross[period];
        record.balance.push(balance.clone());
    }
    let spare = record.balance.iter().zip(situation.safety).map(|(balance, kept)| balance - kept);
    record.moves = moves(situation.open, &dues, spare.collect());
    record
}

/// A look at what comes after a period that is short.
struct Ahead<'a> {
    situation: &'a Situation<'a>,
    dues: &'a [usize],
    period: usize,
    missing: Ratio,
}

impl Ahead<'_> {
    fn lot(&self) -> Ratio {
        match &self.situation.rule {
            Rule::LotForLot => self.missing.clone(),
            Rule::Lots(lot) => {
                let lots = self.missing.checked_div(lot).expect("lots are above zero").ceil();
                lots * lot
            }
            Rule::Periods(count) => {
                let last = self.period + count.saturating_sub(1);
                self.shortfalls(&Ratio::ZERO)
                    .take(last - self.period)
                    .fold(self.missing.clone(), |most, short| most + &short)
            }
        }
    }

    /// Returns what each following period is short of, when `extra` is left at the end of this one and each shortfall is
    /// made good.
    fn shortfalls<'b>(&'b self, extra: &Ratio) -> impl Iterator<Item = Ratio> + 'b {
        let situation = self.situation;
        let mut balance = &situation.safety[self.period] + extra;
        (self.period + 1..situation.gross.len()).map(move |period| {
            for (open, due) in situation.open.iter().zip(self.dues) {
                if *due == period {
                    balance += &open.quantity;
                }
            }
            balance = &balance - &situation.gross[period];
            let short = &situation.safety[period] - &balance;
            if short > Ratio::ZERO {
                balance += &short;
                short
            } else {
                Ratio::ZERO
            }
        })
    }
}

/// Tells for each open order whether it had better come earlier, later or not at all, from the period each is taken to
/// come in and what each period has to spare; the latest first, so that what is not needed is what was ordered last.
pub(super) fn moves(open: &[Open], dues: &[usize], mut spare: Vec<Ratio>) -> Vec<Move> {
    let mut moves = vec![Move::Keep; open.len()];
    let mut order: Vec<usize> = (0..dues.len()).collect();
    order.sort_by_key(|index| std::cmp::Reverse((open[*index].due, *index)));
    for index in order {
        let Open { due, quantity } = &open[index];
        if dues[index] < *due {
            moves[index] = Move::In(dues[index]);
            continue;
        }
        // Whether one that comes after the last period is needed then, nobody knows.
        if spare.len() <= *due {
            continue;
        }
        let needed = (*due..spare.len()).find(|period| spare[*period] < *quantity);
        moves[index] = match needed {
            Some(period) if period < due + LEAST_PUSH => Move::Keep,
            Some(period) => Move::Out(period),
            None => Move::Cancel,
        };
        let until = match moves[index] {
            Move::Out(period) => period,
            Move::Cancel => spare.len(),
            Move::Keep | Move::In(_) => continue,
        };
        for left in spare.iter_mut().take(until).skip(*due) {
            *left = &*left - quantity;
        }
    }
    moves
}

/// Returns the economic order quantity `sqrt(2 D S / H)` for a demand and a holding cost of one span of time and the cost
/// of placing one order, rounded to 6 decimal places (F. W. Harris, "How many parts to make at once", Factory, 1913).
pub(super) fn economic_quantity(
    demand: &Ratio,
    order_cost: &Ratio,
    holding_cost: &Ratio,
) -> Option<Ratio> {
    let square = (Ratio::whole(2) * demand * order_cost).checked_div(holding_cost)?;
    square.rounded_root(6)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wholes(numbers: &[i128]) -> Vec<Ratio> {
        numbers.iter().copied().map(Ratio::whole).collect()
    }

    /// Nets requirements that are bought as wanted.
    fn netted(on_hand: i128, gross: &[i128], open: &[(usize, i128)], rule: Rule) -> Record {
        let open: Vec<Open> = open
            .iter()
            .map(|(due, quantity)| Open { due: *due, quantity: Ratio::whole(*quantity) })
            .collect();
        let situation = Situation {
            on_hand: Ratio::whole(on_hand),
            gross: &wholes(gross),
            open: &open,
            safety: &vec![Ratio::ZERO; gross.len()],
            rule,
        };
        record(&situation, &mut |wanted| wanted.quantity.clone())
    }

    #[test]
    fn what_is_missing_is_planned_for_the_period_it_is_missing_in() {
        let record = netted(5, &[3, 4, 0, 2], &[], Rule::LotForLot);
        assert_eq!(record.net, wholes(&[0, 2, 0, 2]));
        assert_eq!(record.planned, wholes(&[0, 2, 0, 2]));
        assert_eq!(record.balance, wholes(&[2, 0, 0, 0]));
    }

    #[test]
    fn a_lot_is_planned_when_the_one_before_is_used_up() {
        let record = netted(0, &[3, 4, 4, 2], &[], Rule::Lots(Ratio::whole(5)));
        assert_eq!(record.planned, wholes(&[5, 5, 5, 0]));
        assert_eq!(record.balance, wholes(&[2, 3, 4, 2]));
    }

    #[test]
    fn a_period_lot_is_planned_from_the_first_need_on() {
        let record = netted(1, &[1, 4, 4, 2], &[], Rule::Periods(2));
        assert_eq!(record.planned, wholes(&[0, 8, 0, 2]));
    }

    #[test]
    fn what_is_on_order_comes_before_anything_new() {
        let record = netted(0, &[3, 4, 4, 2], &[(1, 6), (3, 1)], Rule::Periods(3));
        assert_eq!(record.planned, wholes(&[0, 0, 6, 0]));
        assert_eq!(record.moves, [Move::In(0), Move::In(1)]);
    }

    #[test]
    fn orders_past_the_last_period_are_called_in_or_left_alone() {
        let record = netted(0, &[3], &[(1, 4)], Rule::LotForLot);
        assert_eq!((record.planned, record.moves), (wholes(&[0]), vec![Move::In(0)]));
        let record = netted(3, &[3], &[(1, 4)], Rule::LotForLot);
        assert_eq!((record.planned, record.moves), (wholes(&[0]), vec![Move::Keep]));
    }

    #[test]
    fn the_order_placed_last_is_the_first_to_be_sent_away() {
        let record = netted(0, &[2, 2, 2], &[(0, 2), (0, 2), (0, 2), (0, 2)], Rule::LotForLot);
        // One that could come a single period later is left alone.
        assert_eq!(record.moves, [Move::Keep, Move::Keep, Move::Out(2), Move::Cancel]);
    }

    #[test]
    fn the_economic_quantity_is_the_root_of_twice_demand_and_cost_over_holding() {
        let quantity = |demand: i128, order: i128, holding: i128| {
            let [demand, order, holding] = [demand, order, holding].map(Ratio::whole);
            economic_quantity(&demand, &order, &holding)
        };
        assert_eq!(quantity(100, 8, 4), Some(Ratio::whole(20)));
        assert_eq!(quantity(1, 1, 1), Some(Ratio::decimal(1_414_214, 6)));
        assert_eq!(quantity(100, 8, 0), None);
    }
}
