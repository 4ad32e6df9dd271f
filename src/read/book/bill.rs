//! The table `bill`.

use std::borrow::Cow;
use std::collections::BTreeSet;

use crate::diag::Problem;
use crate::diag::Severity;
use crate::formula::Expression;
use crate::model::Assembly;
use crate::model::AssemblyId;
use crate::model::AssemblyTerms;
use crate::model::BillLine;
use crate::model::Component;
use crate::model::Details;
use crate::model::Effective;
use crate::model::Further;
use crate::model::ItemId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::model::Rows;
use crate::model::Usage;
use crate::quantity::Dimension;
use crate::read::Cell;
use crate::read::book::Build;
use crate::read::book::Directory;
use crate::read::book::attributes;
use crate::read::book::forms;
use crate::read::book::id;
use crate::read::book::indent;
use crate::read::book::items::GRAINS;
use crate::read::book::known;
use crate::read::book::plans::RESERVED;
use crate::read::book::plans::place;
use crate::read::book::taken;
use crate::read::book::tree;
use crate::read::cells::Row;
use crate::read::cells::text_of;
use crate::read::columns::At;
use crate::read::columns::Grid;
use crate::read::names::folded;
use crate::read::reader::Reader;

/// No more assemblies than this get room in advance: where a bill is not sorted by parent, stretches of lines are many and
/// assemblies few.
const MOST_FORESEEN: usize = 100_000;

/// Choices of the column `use`, in the order of the schema.
const USES: [Usage; 6] =
    [Usage::Count, Usage::Piece, Usage::Cover, Usage::Run, Usage::Fill, Usage::Opening];

/// The columns of the bill, looked up once.
#[derive(Clone, Copy, Debug)]
pub(super) struct Columns {
    parent: At,
    level: At,
    pub(super) component: At,
    pub(super) quantity: At,
    pub(super) length: At,
    pub(super) width: At,
    pub(super) height: At,
    pub(super) usage: At,
    pub(super) rows: At,
    pub(super) gap: At,
    pub(super) grain: At,
    pub(super) cutout: At,
    pub(super) with: At,
    pub(super) when: At,
    pub(super) scrap: At,
    offset_days: At,
    pub(super) x: At,
    pub(super) y: At,
    pub(super) z: At,
    pub(super) travel: At,
    pub(super) span: At,
    from: At,
    to: At,
    note: At,
}

impl Columns {
    /// Tells whether a row says how many of a component a parent takes, and nothing else, as nearly all rows do.
    pub(super) fn is_bare(&self, row: Row) -> bool {
        let told = [self.parent, self.level, self.component, self.quantity];
        let count = told.into_iter().filter(|at| !row.is_empty(*at)).count();
        count == row.grid.table.cell_count(row.index)
    }
}

/// A bill line as read; the line itself holds any id for an unknown parent or component.
pub(super) struct Draft<'a> {
    /// Its row.
    pub(super) row: Row<'a>,
    /// What it takes, if that is known.
    pub(super) component: Option<Component>,
    /// The line.
    pub(super) line: &'a BillLine,
}

/// The lines of a bill.
#[derive(Clone, Copy)]
pub(super) struct Drafts<'a> {
    reader: &'a Reader,
    grid: &'a Grid<'a>,
    rows: &'a Lines,
    /// What stands at the ends of the lines.
    pub(super) ends: Ends<'a>,
    read: &'a [BillLine],
}

/// What lines belong to and take, as far as it is known; apart from the rest of them, since what looks at the whole bill
/// looks at little else.
#[derive(Clone, Copy)]
pub(super) struct Ends<'a> {
    parents: &'a [Option<Parent>],
    components: &'a [Option<Component>],
}

impl<'a> Drafts<'a> {
    pub(super) fn get(self, position: usize) -> Draft<'a> {
        let Drafts { reader, grid, rows, ends, read } = self;
        Draft {
            row: Row { reader, grid, index: rows.get(position).row },
            component: ends.components[position],
            line: &read[position],
        }
    }
}

impl<'a> Ends<'a> {
    /// Returns the ends of each line.
    pub(super) fn iter(
        self,
    ) -> impl Iterator<Item = (Option<Parent>, Option<Component>)> + use<'a> {
        self.parents.iter().copied().zip(self.components.iter().copied())
    }

    /// Tells of each line whether both ends are known.
    fn are_known(self) -> impl Iterator<Item = bool> + use<'a> {
        self.iter().map(|(parent, component)| parent.is_some() && component.is_some())
    }
}

pub(super) fn bill(build: &mut Build) {
    let Some(grid) = build.grids.find("bill") else { return };
    let columns = columns(grid);
    let lines = lines(build, grid, &columns);
    if !grid.has(grid.at("parent")) && !grid.has(grid.at("level")) {
        return;
    }
    let reader = build.reader;
    let parents = parents(build, grid, &lines);
    // Lines are read on all cores; what is not found is told after that, so that the same names get hints each time.
    let names = &build.names;
    let stretches = reader.spread(lines.len(), |stretch, reader| {
        let mut used = known::Used::default();
        let mut components = Vec::with_capacity(stretch.len());
        let mut read = Vec::with_capacity(stretch.len());
        for (position, parent) in stretch.clone().zip(&parents[stretch]) {
            let row = Row { reader, grid, index: lines.get(position).row };
            let name = row.grid.cell(row.index, columns.component);
            let component = found(names, &text_of(name));
            let line = self::read(row, &columns, *parent, component);
            used.add(&line);
            components.push(component);
            read.push(line);
        }
        (components, read, used)
    });
    let mut used = Vec::new();
    let (mut components, mut read) = (Vec::new(), Vec::new());
    for (of_stretch, more, used_there) in stretches {
        used.push(used_there);
        joined(&mut components, of_stretch, lines.len());
        joined(&mut read, more, lines.len());
    }
    let ends = Ends { parents: &parents, components: &components };
    let drafts = Drafts { reader, grid, rows: &lines, ends, read: &read };
    for position in (0..components.len()).filter(|position| components[*position].is_none()) {
        component(build, drafts.get(position).row, columns.component, Severity::Error);
    }
    let known = known::names(build, &used);
    let known: BTreeSet<&str> = known.iter().map(String::as_str).collect();
    let forms = forms::Context::new(build, &columns);
    reader.spread(read.len(), |stretch, reader| {
        for position in stretch {
            let draft = Drafts { reader, ..drafts }.get(position);
            known::check_line(&draft, &columns, &known);
            forms.check(&draft);
        }
    });
    tree::check(build, &columns, &drafts, &used);
    let mut are_known = ends.are_known();
    read.retain(|_| are_known.next() == Some(true));
    build.book.lines = read;
}

/// Adds what was read of a stretch to `count` in all; the first is taken as it is.
fn joined<T>(all: &mut Vec<T>, more: Vec<T>, count: usize) {
    if all.is_empty() {
        *all = more;
        all.reserve_exact(count - all.len());
    } else {
        all.extend(more);
    }
}

fn columns(grid: &Grid) -> Columns {
    let at = |name| grid.at(name);
    Columns {
        parent: at("parent"),
        level: at("level"),
        component: at("component"),
        quantity: at("quantity"),
        length: at("length"),
        width: at("width"),
        height: at("height"),
        usage: at("use"),
        rows: at("rows"),
        gap: at("gap"),
        grain: at("grain"),
        cutout: at("cutout"),
        with: at("with"),
        when: at("when"),
        scrap: at("scrap_percent"),
        offset_days: at("offset_days"),
        x: at("x"),
        y: at("y"),
        z: at("z"),
        travel: at("travel"),
        span: at("span"),
        from: at("effective_from"),
        to: at("effective_to"),
        note: at("note"),
    }
}

/// A line with the cell that names its parent.
#[derive(Clone, Copy)]
struct Line {
    row: usize,
    name_row: usize,
    name_at: At,
}

/// The lines of a bill.
enum Lines {
    /// Every row of so many, with its parent in this column.
    Rows(usize, At),
    /// Some rows, each with its parent further up.
    Indented(Vec<Line>),
}

impl Lines {
    fn len(&self) -> usize {
        match self {
            Lines::Rows(count, _) => *count,
            Lines::Indented(lines) => lines.len(),
        }
    }

    fn get(&self, position: usize) -> Line {
        match self {
            Lines::Rows(_, at) => Line { row: position, name_row: position, name_at: *at },
            Lines::Indented(lines) => lines[position],
        }
    }
}

/// Returns what each line belongs to; names that are new become assemblies, in the order of the lines.
fn parents(build: &mut Build, grid: &Grid, lines: &Lines) -> Vec<Option<Parent>> {
    let reader = build.reader;
    // Lines of one parent mostly stand together: where its name changes is found on all cores.
    let starts = reader.spread(lines.len(), |stretch, reader| {
        let mut starts: Vec<(usize, Cow<str>)> = Vec::new();
        for position in stretch {
            let Line { name_row, name_at, .. } = lines.get(position);
            let row = Row { reader, grid, index: name_row };
            if row.is_empty(name_at) && matches!(lines, Lines::Rows(..)) {
                row.error(name_at, Problem::CellMissing);
            }
            // An error of a spreadsheet is told here, and names nothing.
            let is_nothing = row.cell(name_at) == Cell::Empty;
            let name =
                if is_nothing { Cow::Borrowed("") } else { text_of(grid.cell(name_row, name_at)) };
            if starts.last().is_none_or(|(_, last)| *last != name) {
                starts.push((position, name));
            }
        }
        starts
    });
    // Most parents of a bill are assemblies with a stretch of lines each.
    let count = starts.iter().map(Vec::len).sum::<usize>().min(MOST_FORESEEN);
    build.names.assemblies.reserve(count);
    build.book.assemblies.reserve(count);
    let mut starts = starts.into_iter().flatten().peekable();
    let mut parents = Vec::with_capacity(lines.len());
    while let Some((start, name)) = starts.next() {
        let line = lines.get(start);
        let row = Row { reader, grid, index: line.name_row };
        let parent = parent(build, row, &line, &name);
        parents.resize(starts.peek().map_or(lines.len(), |(next, _)| *next), parent);
    }
    parents
}

fn lines(build: &Build, grid: &Grid, columns: &Columns) -> Lines {
    let (parent, level) = (grid.at("parent"), grid.at("level"));
    if grid.has(parent) {
        if grid.has(level) {
            let problem = Problem::ColumnIgnored {
                column: "level".to_owned(),
                reason: "column `parent` says what a line belongs to".to_owned(),
            };
            let place = Some(grid.table.whole());
            build.reader.findings.about_table(grid.rank, Severity::Note, place, problem, None);
        }
        return Lines::Rows(grid.table.row_count(), parent);
    }
    if grid.has(level) {
        let line = |child: indent::Child| Line {
            row: child.row,
            name_row: child.parent,
            name_at: columns.component,
        };
        return Lines::Indented(indent::children(build, grid).into_iter().map(line).collect());
    }
    let problem = Problem::ColumnMissing { table: "bill".to_owned(), column: "parent".to_owned() };
    let place = Some(grid.table.whole());
    let hint = "an indented bill has a column `level` instead".to_owned();
    build.reader.findings.about_table(grid.rank, Severity::Error, place, problem, Some(hint));
    Lines::Indented(Vec::new())
}

/// Returns what a line belongs to; a name that is neither plan nor option is an assembly.
fn parent(build: &mut Build, row: Row, line: &Line, name: &str) -> Option<Parent> {
    if name.is_empty() {
        return None;
    }
    if let Some(plan) = build.names.plans.find(name) {
        return Some(Parent::Plan(plan));
    }
    if let Some(option) = build.names.options.find(name) {
        return Some(Parent::Option(option));
    }
    let next = AssemblyId(id(build.book.assemblies.len()));
    if let Some(assembly) = build.names.assemblies.add(name, next) {
        return Some(Parent::Assembly(assembly));
    }
    if let Some(item) = build.names.items.find(name) {
        let first = place(build, build.book.items[item.index()].row.row, "items");
        taken(row, line.name_at, "name", name, first);
    }
    build.book.assemblies.push(Assembly {
        name: name.to_owned(),
        description: String::new(),
        station: String::new(),
        terms: AssemblyTerms::default(),
        attributes: Vec::new(),
        row: row.grid.row_ref(line.row),
    });
    Some(Parent::Assembly(next))
}

/// Returns the item or assembly of a name.
fn found(names: &Directory, name: &str) -> Option<Component> {
    let item = names.items.find(name).map(Component::Item);
    item.or_else(|| names.assemblies.find(name).map(Component::Assembly))
}

/// Returns the item or assembly in a cell that must not be empty, or tells that there is none.
pub(super) fn component(build: &Build, row: Row, at: At, severity: Severity) -> Option<Component> {
    let name = row.needed_text(at)?;
    if let Some(component) = found(&build.names, &name) {
        return Some(component);
    }
    if build.names.plans.find(&name).is_some() {
        let problem = Problem::PlanAsComponent { plan: name.into_owned() };
        row.tell(severity, Some(at), problem);
        return None;
    }
    let hint = if build.names.options.find(&name).is_some() {
        Some("it is an option: its lines join those of the plan when it is taken".to_owned())
    } else {
        build.names.items.hint(&name).or_else(|| build.names.assemblies.hint(&name))
    };
    let what = "item or assembly".to_owned();
    let problem = Problem::NameUnknown { what, name: name.into_owned() };
    row.tell_with_hint(severity, Some(at), problem, hint);
    None
}

fn read(
    row: Row,
    columns: &Columns,
    parent: Option<Parent>,
    component: Option<Component>,
) -> BillLine {
    let quantity = row.formula(columns.quantity, Dimension::NUMBER);
    let quantity = quantity.unwrap_or_else(|| row.reader.one.clone());
    // An unknown end is an error, so that no book is made of the line.
    let parent = parent.unwrap_or(Parent::Plan(PlanId(u32::MAX)));
    let component = component.unwrap_or(Component::Item(ItemId(u32::MAX)));
    if columns.is_bare(row) {
        return BillLine::plain(parent, component, quantity, row.grid.row_ref(row.index));
    }
    let length = |at| row.formula(at, Dimension::LENGTH);
    let (from, to) = (row.effective(columns.from), row.effective(columns.to));
    let is_reversed = match (from, to) {
        (Some(Effective::Date(from)), Some(Effective::Date(to))) => to < from,
        (Some(Effective::Unit(from)), Some(Effective::Unit(to))) => to < from,
        _ => false,
    };
    if is_reversed {
        row.out_of_range(columns.to, "not before `effective_from`");
    }
    BillLine {
        parent,
        component,
        usage: row.choice(columns.usage).map_or(Usage::Count, |choice| USES[choice]),
        quantity,
        length: length(columns.length),
        width: length(columns.width),
        height: length(columns.height),
        when: row.formula(columns.when, Dimension::NUMBER),
        rows: row
            .choice(columns.rows)
            .map_or(Rows::Cheaper, |choice| [Rows::Length, Rows::Width][choice]),
        grain: row.choice(columns.grain).map(|choice| GRAINS[choice]),
        further: Further::from(Details {
            cutout: row.formula(columns.cutout, Dimension::AREA),
            with: with(row, columns.with),
            gap: row.length(columns.gap).unwrap_or_default(),
            scrap: row.loss(columns.scrap).unwrap_or_default(),
            offset_days: row.number(columns.offset_days),
            x: length(columns.x),
            y: length(columns.y),
            z: length(columns.z),
            travel: length(columns.travel),
            span: length(columns.span),
            from,
            to,
            note: row.text(columns.note).into_owned(),
            attributes: attributes(row),
        }),
        row: row.grid.row_ref(row.index),
    }
}

/// Reads `spacing = 12 in; windows = 3`, parted at `;` outside parentheses.
pub(super) fn with(row: Row, at: At) -> Vec<(String, Expression)> {
    named_values(row, at, RESERVED)
}

/// Reads named values, but for names that cannot be given so.
pub(super) fn named_values(row: Row, at: At, reserved: &[&str]) -> Vec<(String, Expression)> {
    let text = row.text(at);
    let mut values: Vec<(String, Expression)> = Vec::new();
    for part in parts(&text) {
        let part = part.trim();
        if part.is_empty() {
            continue;
        }
        let name = part.split_once('=').map(|(name, value)| (folded(name), value.trim()));
        let is_name = |name: &str| {
            name.starts_with(|letter: char| letter.is_alphabetic() || letter == '_')
                && name.chars().all(|letter| letter.is_alphanumeric() || letter == '_')
        };
        let Some((name, value)) = name.filter(|(name, value)| is_name(name) && !value.is_empty())
        else {
            let problem =
                Problem::NotAMeasure { text: part.to_owned(), expected: "named value".to_owned() };
            row.error_with_hint(
                at,
                problem,
                Some("write `name = value`, parted by `;`".to_owned()),
            );
            continue;
        };
        if reserved.contains(&name.as_str()) {
            let hint = match name.as_str() {
                "openings" => "openings come from lines of use `opening`".to_owned(),
                _ => format!("use the column `{name}`"),
            };
            row.error_with_hint(at, Problem::NameReserved { name }, Some(hint));
            continue;
        }
        if values.iter().any(|(other, _)| *other == name) {
            let problem = Problem::DefinedTwice {
                what: "value".to_owned(),
                name,
                first: row.grid.place(row.index, Some(at)),
            };
            row.error(at, problem);
            continue;
        }
        if let Some(expression) = row.parsed(at, value, Dimension::NUMBER) {
            values.push((name, expression));
        }
    }
    values
}

fn parts(text: &str) -> Vec<&str> {
    let mut depth = 0_i32;
    let is_cut = |letter: char| {
        match letter {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        letter == ';' && depth <= 0
    };
    text.split(is_cut).collect()
}
