use crate::model::PriceEnding;
use crate::price::Rule;
use crate::quantity::Ratio;

/// What a price is reckoned from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Target {
    /// A share of the price, below one: 0.25 for 25 %.
    Margin(Ratio),
    /// A share of the cost, not below zero.
    Markup(Ratio),
    /// The price itself, above zero.
    At(Ratio),
}

/// A price with what it leaves.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quote {
    /// What it was reckoned from.
    pub target: Target,
    /// The price before it was rounded, in currency units.
    pub exact: Ratio,
    /// The list price, in the currency's smallest unit.
    pub price: i128,
    /// Price less cost, in the same.
    pub profit: i128,
    /// Profit over price; nothing for a price of zero.
    pub margin: Option<Ratio>,
    /// Profit over cost; nothing for a cost of zero.
    pub markup: Option<Ratio>,
    /// The price if the percentage were taken the other way: of the cost instead of the price, or the reverse. Nothing
    /// for a given price, and where that way has no price.
    pub other_way: Option<i128>,
}

/// Returns the price of a cost given in the currency's smallest unit.
pub(super) fn quote(rule: Rule, cost: i128, target: Target, ending: Option<&PriceEnding>) -> Quote {
    let money = Ratio::decimal(cost, rule.digits);
    let by_margin = |share: &Ratio| money.checked_div(&(Ratio::ONE - share));
    let by_markup = |share: &Ratio| Some(&money * &(&Ratio::ONE + share));
    let listed = |exact: &Ratio| match ending {
        Some(ending) => rule.minor(&ending.up(exact)),
        None => rule.minor(exact),
    };
    let (exact, price, other_way) = match &target {
        Target::Margin(share) => {
            let exact = by_margin(share).expect("a margin lies below one");
            let price = listed(&exact);
            (exact, price, by_markup(share))
        }
        Target::Markup(share) => {
            let exact = by_markup(share).expect("a product always is");
            let price = listed(&exact);
            (exact, price, by_margin(share).filter(|_| *share < Ratio::ONE))
        }
        Target::At(price) => (price.clone(), rule.minor(price), None),
    };
    let profit = price - cost;
    Quote {
        target,
        exact,
        price,
        profit,
        margin: Ratio::new(profit, price),
        markup: Ratio::new(profit, cost),
        other_way: other_way.map(|exact| listed(&exact)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Rounding;

    const CENTS: Rule = Rule { digits: 2, rounding: Rounding::HalfEven };

    fn percent(percent: i128) -> Ratio {
        Ratio::new(percent, 100).unwrap()
    }

    // Computed: price = cost / (1 - margin) = cost x (1 + markup); markup = margin / (1 - margin).
    #[test]
    fn margin_and_markup_are_told_apart() {
        let by_margin = quote(CENTS, 7_500, Target::Margin(percent(25)), None);
        assert_eq!((by_margin.price, by_margin.profit), (10_000, 2_500));
        assert_eq!(by_margin.markup, Ratio::new(1, 3));
        assert_eq!(by_margin.other_way, Some(9_375));
        let by_markup = quote(CENTS, 7_500, Target::Markup(percent(25)), None);
        assert_eq!((by_markup.price, by_markup.margin), (9_375, Ratio::new(1, 5)));
        assert_eq!(by_markup.other_way, Some(10_000));
        let given = quote(CENTS, 7_500, Target::At(Ratio::whole(100)), None);
        assert_eq!((given.margin, given.other_way), (Some(percent(25)), None));
    }

    #[test]
    fn a_markup_of_the_whole_cost_has_no_margin_of_that_share() {
        let doubled = quote(CENTS, 100, Target::Markup(Ratio::ONE), None);
        assert_eq!((doubled.price, doubled.other_way), (200, None));
    }

    #[test]
    fn list_prices_are_rounded_up_to_their_ending() {
        let ending = |step, rest| PriceEnding {
            step: Ratio::whole(step),
            rest: Ratio::whole(rest),
            text: String::new(),
        };
        let listed = |cost, ending: &PriceEnding| {
            quote(CENTS, cost, Target::Markup(Ratio::ZERO), Some(ending)).price
        };
        assert_eq!(listed(2_240_001, &ending(5, 0)), 2_240_500);
        assert_eq!(listed(2_240_500, &ending(5, 0)), 2_240_500);
        assert_eq!(listed(2_240_001, &ending(100, 95)), 2_249_500);
        assert_eq!(listed(2_249_501, &ending(100, 95)), 2_259_500);
    }
}
