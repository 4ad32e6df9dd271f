//! Tables that later questions use: every cell is checked by its kind, every name looked up.

use crate::diag::Problem;
use crate::diag::Severity;
use crate::read::book::Build;
use crate::read::cells::Row;
use crate::read::columns::At;
use crate::read::schema::Kind;
use crate::read::schema::Role;

pub(super) fn later(build: &mut Build) {
    for grid in build.grids.list.iter().filter(|grid| grid.schema.is_later) {
        for row in build.reader.rows(grid) {
            for (at, _) in grid.present() {
                let column = grid.column(at);
                row.check(at);
                match column.kind {
                    Kind::Name(role) => name(build, row, at, role),
                    _ if column.is_required && row.is_empty(at) => {
                        row.error(at, Problem::CellMissing);
                    }
                    _ => {}
                }
            }
        }
    }
}

/// Looks a name up. What a list from another system holds beyond the book is told, but is no error.
fn name(build: &Build, row: Row, at: At, role: Role) {
    let name = row.text(at);
    if name.is_empty() {
        if row.grid.column(at).is_required {
            row.error(at, Problem::CellMissing);
        }
        return;
    }
    let names = &build.names;
    let (what, is_known) = match role {
        Role::Plan => ("plan", names.plans.find(&name).is_some()),
        Role::Item => ("item", names.items.find(&name).is_some()),
        Role::Assembly => ("assembly", names.assemblies.find(&name).is_some()),
        Role::Option => ("option", names.options.find(&name).is_some()),
        Role::Component => {
            let is_assembly = names.assemblies.find(&name).is_some();
            ("item or assembly", is_assembly || names.items.find(&name).is_some())
        }
        Role::Vendor | Role::Other => return,
    };
    if is_known {
        return;
    }
    let hint = match role {
        Role::Plan => names.plans.hint(&name),
        Role::Assembly => names.assemblies.hint(&name),
        Role::Option => names.options.hint(&name),
        _ => names.items.hint(&name),
    };
    let problem = Problem::NameUnknown { what: what.to_owned(), name: name.into_owned() };
    row.tell_with_hint(Severity::Warning, Some(at), problem, hint);
}
