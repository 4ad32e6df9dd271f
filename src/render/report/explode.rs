use crate::explode::{Branch, Build, Need, Needs, Take, What};
use crate::model::Book;
use crate::model::Component;
use crate::model::Form;
use crate::model::ItemId;
use crate::model::Size;
use crate::model::Unit;
use crate::quantity::Length;
use crate::quantity::Ratio;
use crate::render::report::{
    Cell, Report, Showing, Table, WEIGHT_CAUTIONS, build_name, build_options, figures, heading,
    table, words,
};
use crate::render::shown;

/// Most rows an indented bill shows; a shared bill may explode into millions.
const MOST_ROWS: usize = 200_000;

/// One row of an indented bill, with how many one unit of the plan has.
struct Row {
    branch: Branch,
    extended: Ratio,
}

/// Returns the exploded bills of the plans, level by level.
#[must_use]
pub fn indented(book: &Book, needs: &Needs) -> Report {
    let notes = WEIGHT_CAUTIONS.map(str::to_owned).to_vec();
    let mut report = Report { heading: heading(book, needs.on), notes, ..Report::default() };
    for build in &needs.builds {
        let mut rows = Vec::new();
        let mut is_cut = false;
        needs.walk(build, &mut |branch| {
            let extended = &branch.times * &needs.taken(branch.source).quantity;
            rows.push(Row { branch: branch.clone(), extended });
            is_cut = rows.len() >= MOST_ROWS;
            !is_cut
        });
        let mut made = bill(book, needs, build, &rows);
        if is_cut {
            made.below.push(format!("cut off after {MOST_ROWS} rows; the flat needs are complete"));
        }
        report.tables.push(made);
    }
    report
}

fn bill(book: &Book, needs: &Needs, build: &Build, rows: &[Row]) -> Table {
    let unit = &book.settings.length_unit;
    let line = |row: &Row| book.line(needs.taken(row.branch.source).line);
    let plan = build_name(book, build);
    let fields = [
        words("plan", |_: &Row| plan.clone()).showing(Showing::Never),
        figures("level", |row: &Row| Cell::text(row.branch.level.to_string()))
            .showing(Showing::Never),
        words("component", |row: &Row| {
            let indent = ". ".repeat(row.branch.level as usize - 1);
            format!("{indent}{}", book.component_name(line(row).component))
        }),
        words("description", |row: &Row| match line(row).component {
            Component::Item(item) => book.item(item).description.clone(),
            Component::Assembly(assembly) => book.assemblies[assembly.index()].description.clone(),
        })
        .showing(Showing::IfItFits),
        figures("quantity", |row: &Row| {
            Cell::figure(shown::rounded(
                &amount(book, needs, row, &needs.taken(row.branch.source).quantity),
                4,
            ))
        }),
        words("unit", |row: &Row| unit_of(book, needs, row)),
        words(&format!("size {}", unit.name), |row: &Row| {
            match &needs.taken(row.branch.source).take {
                Take::Pieces(cuts) => {
                    let sizes: Vec<String> = cuts
                        .iter()
                        .map(|cut| {
                            let size = if cut.width > Length::ZERO {
                                shown::sides(cut.length, cut.width, unit)
                            } else {
                                shown::length(cut.length, unit)
                            };
                            if cuts.len() > 1 { format!("{} of {size}", cut.count) } else { size }
                        })
                        .collect();
                    sizes.join(", ")
                }
                Take::Whole(size) => {
                    let size = &book.sizes[size.index()];
                    whole_size(size, unit)
                }
                _ => String::new(),
            }
        }),
        figures("per plan", |row: &Row| {
            Cell::figure(shown::rounded(&amount(book, needs, row, &row.extended), 4))
        }),
        figures(&format!("weight {}", book.settings.weight_unit.name), |row: &Row| {
            let pounds = &row.extended * &needs.taken(row.branch.source).weight;
            let weight =
                pounds.checked_div(&book.settings.weight_unit.factor).unwrap_or(Ratio::ZERO);
            Cell::figure(shown::rounded(&weight, 2))
        }),
        words("line", |row: &Row| book.place(line(row).row, None).to_string())
            .showing(Showing::IfItFits),
    ];
    table(format!("{plan} ({})", build_options(book, build)), &fields, rows)
}

/// Returns a quantity in the unit that is printed beside it.
fn amount(book: &Book, needs: &Needs, row: &Row, quantity: &Ratio) -> Ratio {
    let taken = needs.taken(row.branch.source);
    let Component::Item(item) = book.line(taken.line).component else { return quantity.clone() };
    let each = match &taken.take {
        Take::Amount(amount) => amount.checked_div(&book.item(item).unit.factor),
        Take::Run(length) => length.to_ratio().checked_div(&Length::FOOT.to_ratio()),
        Take::Pieces(cuts) => Some(cuts.iter().map(|cut| Ratio::from(i64::from(cut.count))).sum()),
        Take::Whole(_) | Take::Assembly(_) => None,
    };
    quantity * &each.unwrap_or(Ratio::ONE)
}

fn unit_of(book: &Book, needs: &Needs, row: &Row) -> String {
    let taken = needs.taken(row.branch.source);
    let Component::Item(item) = book.line(taken.line).component else { return "each".to_owned() };
    match &taken.take {
        Take::Amount(_) => book.item(item).unit.name.clone(),
        Take::Run(_) => "ft".to_owned(),
        Take::Pieces(_) => "piece".to_owned(),
        Take::Whole(_) => whole(book.item(item).form).to_owned(),
        Take::Assembly(_) => "each".to_owned(),
    }
}

/// Returns the word for a whole size of a form.
fn whole(form: Form) -> &'static str {
    match form {
        Form::Sheet => "sheet",
        Form::Roll => "roll",
        Form::Linear => "stick",
        _ => "each",
    }
}

fn whole_size(size: &Size, unit: &Unit) -> String {
    match (size.length, size.width) {
        (Some(length), Some(width)) if width > Length::ZERO => shown::sides(length, width, unit),
        (Some(length), _) => shown::length(length, unit),
        (None, _) => "to length".to_owned(),
    }
}

/// Returns what one unit of each plan needs, per item and size.
#[must_use]
pub fn needs(book: &Book, needs: &Needs) -> Report {
    let mut report = Report { heading: heading(book, needs.on), ..Report::default() };
    let unit = &book.settings.length_unit;
    for build in &needs.builds {
        let flat = needs.flat(book, build);
        let plan = build_name(book, build);
        let fields = [
            words("plan", |_: &Need| plan.clone()).showing(Showing::Never),
            words("item", |need: &Need| book.item(need.item).name.clone()),
            words("description", |need: &Need| book.item(need.item).description.clone())
                .showing(Showing::IfItFits),
            words("form", |need: &Need| book.item(need.item).form.name().to_owned()),
            words(&format!("size {}", unit.name), |need: &Need| match need.what {
                What::Piece { length, width, .. } if width > Length::ZERO => {
                    shown::sides(length, width, unit)
                }
                What::Piece { length, .. } => shown::length(length, unit),
                What::Whole(size) => {
                    let size = &book.sizes[size.index()];
                    whole_size(size, unit)
                }
                What::Run => "run".to_owned(),
                What::Amount => String::new(),
            }),
            figures("good", |need: &Need| {
                Cell::figure(shown::rounded(&in_unit(book, need, &need.good), 4))
            }),
            figures("required", |need: &Need| {
                Cell::figure(shown::rounded(&in_unit(book, need, &need.required), 4))
            }),
            words("unit", |need: &Need| match need.what {
                What::Piece { .. } => "piece".to_owned(),
                What::Whole(_) => whole(book.item(need.item).form).to_owned(),
                What::Run => "ft".to_owned(),
                What::Amount => book.item(need.item).unit.name.clone(),
            }),
        ];
        let title = format!("{plan} ({}): one unit needs", build_options(book, build));
        report.tables.push(table(title, &fields, &flat.needs));
    }
    report
}

fn in_unit(book: &Book, need: &Need, amount: &Ratio) -> Ratio {
    let factor = match need.what {
        What::Amount => &book.item(need.item).unit.factor,
        What::Run => &Length::FOOT.to_ratio(),
        What::Piece { .. } | What::Whole(_) => &Ratio::ONE,
    };
    amount.checked_div(factor).unwrap_or(Ratio::ZERO)
}

/// One bill line that uses an item, in one plan.
struct Used {
    plan: String,
    section: String,
    parent: String,
    place: String,
    form: Form,
    unit: String,
    amount: Ratio,
}

/// Returns every bill line that uses an item, with how much one unit of each plan takes through it.
#[must_use]
pub fn where_used(book: &Book, needs: &Needs, item: ItemId) -> Report {
    let row = book.item(item);
    let mut used: Vec<Used> = Vec::new();
    for build in &needs.builds {
        for found in needs.uses(build) {
            let taken = needs.taken(found.source);
            let line = book.line(taken.line);
            if line.component != Component::Item(item) {
                continue;
            }
            let (each, unit) = match &taken.take {
                Take::Amount(amount) => (
                    amount.checked_div(&row.unit.factor).unwrap_or(Ratio::ZERO),
                    row.unit.name.clone(),
                ),
                Take::Run(length) => (
                    length.to_ratio().checked_div(&Length::FOOT.to_ratio()).unwrap_or(Ratio::ZERO),
                    "ft".to_owned(),
                ),
                Take::Pieces(cuts) => (
                    cuts.iter().map(|cut| Ratio::from(i64::from(cut.count))).sum(),
                    "piece".to_owned(),
                ),
                Take::Whole(_) | Take::Assembly(_) => (Ratio::ONE, whole(row.form).to_owned()),
            };
            let amount = &found.times * &taken.quantity * &each;
            let section = book.line(needs.instances[build.root.index()].lines[found.section].line);
            let place = book.place(line.row, None).to_string();
            let plan = build_name(book, build);
            let section = book.component_name(section.component).to_owned();
            let same = used.iter_mut().find(|known| {
                known.plan == plan
                    && known.place == place
                    && known.section == section
                    && known.unit == unit
            });
            match same {
                Some(known) => known.amount += &amount,
                None => used.push(Used {
                    plan,
                    section,
                    parent: book.parent_name(line.parent).to_owned(),
                    place,
                    form: row.form,
                    unit,
                    amount,
                }),
            }
        }
    }
    let fields = [
        words("plan", |used: &Used| used.plan.clone()),
        words("section", |used: &Used| used.section.clone()),
        words("parent", |used: &Used| used.parent.clone()),
        words("line", |used: &Used| used.place.clone()),
        words("form", |used: &Used| used.form.name().to_owned()),
        figures("per plan", |used: &Used| Cell::figure(shown::rounded(&used.amount, 4))),
        words("unit", |used: &Used| used.unit.clone()),
    ];
    let title = format!("Where {} is used: {}", row.name, row.description);
    Report {
        heading: heading(book, needs.on),
        tables: vec![table(title, &fields, &used)],
        notes: Vec::new(),
    }
}
