/// What a difference comes from. In the order of a bridge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effect {
    /// Another price for the same purchase.
    Price,
    /// More or less that ends up in the unit.
    Quantity,
    /// More or less that is bought for what ends up in the unit: nests, scrap, rounding up, credits for offcuts.
    Yield,
    /// Other sizes of the same item, at the old prices.
    SizeMix,
    /// Items that took the place of others.
    Substitution,
    /// Another price for an hour.
    LaborRate,
    /// More or fewer hours, also those of operations that came or went.
    LaborHours,
    /// Another percent or amount of a burden, or a burden that came or went.
    BurdenRate,
    /// More or less that a burden is laid on.
    BurdenBase,
    /// Another weight of the same measure of an item.
    UnitWeight,
    /// Items that came, in the place of none.
    Added,
    /// Items that went, with none in their place.
    Removed,
}

/// The kinds of effects: what a summary tells apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// [`Effect::Price`].
    Price,
    /// [`Effect::Quantity`].
    Quantity,
    /// [`Effect::SizeMix`] and [`Effect::Substitution`].
    Mix,
    /// [`Effect::Yield`].
    Yield,
    /// [`Effect::LaborRate`] and [`Effect::LaborHours`].
    Labor,
    /// [`Effect::BurdenRate`] and [`Effect::BurdenBase`].
    Burden,
    /// [`Effect::Added`] and [`Effect::Removed`].
    Structure,
    /// [`Effect::UnitWeight`].
    UnitWeight,
}

/// How many effects there are.
pub(super) const EFFECTS: usize = Effect::ALL.len();

impl Effect {
    /// Every effect, in the order of a bridge.
    pub const ALL: [Effect; 12] = [
        Effect::Price,
        Effect::Quantity,
        Effect::Yield,
        Effect::SizeMix,
        Effect::Substitution,
        Effect::LaborRate,
        Effect::LaborHours,
        Effect::BurdenRate,
        Effect::BurdenBase,
        Effect::UnitWeight,
        Effect::Added,
        Effect::Removed,
    ];

    /// Returns the words a bridge has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Effect::Price => "price",
            Effect::Quantity => "quantity",
            Effect::Yield => "yield",
            Effect::SizeMix => "size mix",
            Effect::Substitution => "substitution",
            Effect::LaborRate => "labor rate",
            Effect::LaborHours => "labor hours",
            Effect::BurdenRate => "burden rate",
            Effect::BurdenBase => "burden base",
            Effect::UnitWeight => "unit weight",
            Effect::Added => "added",
            Effect::Removed => "removed",
        }
    }

    /// Returns the kind it belongs to.
    #[must_use]
    pub const fn class(self) -> Class {
        match self {
            Effect::Price => Class::Price,
            Effect::Quantity => Class::Quantity,
            Effect::Yield => Class::Yield,
            Effect::SizeMix | Effect::Substitution => Class::Mix,
            Effect::LaborRate | Effect::LaborHours => Class::Labor,
            Effect::BurdenRate | Effect::BurdenBase => Class::Burden,
            Effect::UnitWeight => Class::UnitWeight,
            Effect::Added | Effect::Removed => Class::Structure,
        }
    }
}

impl Class {
    /// Every kind that money has, in the order of a summary.
    pub const OF_COST: [Class; 7] = [
        Class::Price,
        Class::Quantity,
        Class::Mix,
        Class::Yield,
        Class::Labor,
        Class::Burden,
        Class::Structure,
    ];

    /// Returns the words a summary has for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Class::Price => "price",
            Class::Quantity => "quantity",
            Class::Mix => "mix",
            Class::Yield => "yield",
            Class::Labor => "labor",
            Class::Burden => "burden",
            Class::Structure => "structure",
            Class::UnitWeight => "unit weight",
        }
    }
}
