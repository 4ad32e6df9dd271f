use std::collections::BTreeSet;

use crate::model::{AssemblyTerms, Attribute, Book, OptionId, PlanId, RowRef};
use crate::quantity::{Measure, Ratio};

/// A floor plan: the top of a bill.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// Name, as the user wrote it.
    pub name: String,
    /// What it is, in words.
    pub description: String,
    /// Named dimensions (`length`, `width`, `wall_height`, ratings), lower case, in column order.
    pub values: Vec<(String, Measure)>,
    /// Other columns.
    pub attributes: Vec<Attribute>,
    /// Where it is defined.
    pub row: RowRef,
}

/// Something made of components.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assembly {
    /// Name, as the user wrote it.
    pub name: String,
    /// What it is, in words; empty if table `assemblies` does not say.
    pub description: String,
    /// Station that builds it; empty if not said.
    pub station: String,
    /// How it is kept and made.
    pub terms: AssemblyTerms,
    /// Other columns.
    pub attributes: Vec<Attribute>,
    /// Its row in table `assemblies`, or else of its first bill line.
    pub row: RowRef,
}

/// An option a plan is sold with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BookOption {
    /// Name, as the user wrote it: letters, digits and `_`, so that `when` can name it.
    pub name: String,
    /// The plan it is for; every plan if not said.
    pub plan: Option<PlanId>,
    /// What it is, in words.
    pub description: String,
    /// Whether a plan has it unless told otherwise.
    pub is_standard: bool,
    /// Share of units that get it, from 0 to 1.
    pub take_rate: Option<Ratio>,
    /// Name of the choice it belongs to: exactly one option of a choice is taken.
    pub choice: Option<String>,
    /// Names of the options it brings with it.
    pub includes: Vec<String>,
    /// Names of the options it cannot be taken with.
    pub excludes: Vec<String>,
    /// Where it is defined.
    pub row: RowRef,
}

impl BookOption {
    /// Tells whether it can be had with a plan.
    #[must_use]
    pub fn is_for(&self, plan: PlanId) -> bool {
        self.plan.is_none_or(|only| only == plan)
    }

    /// Tells whether it brings another with it.
    #[must_use]
    pub fn brings(&self, other: &BookOption) -> bool {
        self.includes.iter().any(|name| name.eq_ignore_ascii_case(&other.name))
    }

    /// Tells whether it says that it cannot be taken with another.
    #[must_use]
    pub fn excludes(&self, other: &BookOption) -> bool {
        self.excludes.iter().any(|name| name.eq_ignore_ascii_case(&other.name))
    }
}

impl Book {
    /// Adds options of a plan to those taken, with all that they bring along.
    pub fn take_options(
        &self,
        plan: PlanId,
        more: impl IntoIterator<Item = OptionId>,
        taken: &mut BTreeSet<OptionId>,
    ) {
        let mut open: Vec<OptionId> = more.into_iter().collect();
        while let Some(id) = open.pop() {
            let option = &self.options[id.index()];
            if !option.is_for(plan) || !taken.insert(id) {
                continue;
            }
            let brought = (0_u32..).zip(&self.options).filter(|(_, other)| option.brings(other));
            open.extend(brought.map(|(index, _)| OptionId(index)));
        }
    }
}
