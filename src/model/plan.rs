use crate::model::{AssemblyTerms, Attribute, PlanId, RowRef};
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
