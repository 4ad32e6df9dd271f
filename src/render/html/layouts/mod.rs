//! Every distinct layout of every nest: drawn to scale, with its piece list, its cuts in order, its yield and the gap of
//! its nest.

mod draw;

use std::collections::BTreeMap;

use askama::Template;

use crate::explode::{Needs, Take};
use crate::model::{Book, Component, Edges, Item, ItemId, Unit};
use crate::nest::{Kind, Layout, Rest};
use crate::quantity::{Length, Ratio};
use crate::render::html::svg::{Drawing, Figure};
use crate::render::report::{build_name, times};
use crate::render::shown;
use crate::rollup::{BuildCost, ItemCost, Nested, Rollup};
use crate::shop::{Sequence, sequence};

/// A layout ready to be written.
#[derive(Template)]
#[template(path = "card.html")]
pub(super) struct Card {
    /// Its name in the document.
    pub(super) id: String,
    /// The plan it is of.
    pub(super) plan: String,
    /// What it is of: plan, item and which of its layouts.
    pub(super) title: String,
    /// What the item is, in words.
    pub(super) description: String,
    /// The stock.
    pub(super) stock: Figure,
    /// How often it is cut, in words.
    pub(super) repeat: String,
    /// What else there is to know, by name.
    pub(super) facts: Vec<(&'static str, Figure)>,
    pub(super) drawing: Drawing,
    pub(super) rows: Vec<Row>,
    pub(super) cuts: Vec<CutRow>,
    /// Whether it has a width: sheets and rolls do.
    pub(super) is_flat: bool,
    /// Why there is no order of cuts; empty where there is one.
    pub(super) no_cuts: &'static str,
    /// Offcuts kept, each with its size.
    pub(super) offcuts: Vec<Figure>,
    /// Where the very same layout is cut too: plan, which of its layouts, how often.
    pub(super) also: Vec<String>,
}

/// Pieces of one size in a layout.
pub(super) struct Row {
    /// The letter it has in the drawing.
    pub(super) mark: String,
    pub(super) size: Figure,
    /// How many on one stock.
    pub(super) count: u64,
    /// How many on all that are cut this way.
    pub(super) total: u64,
    /// What they are for, the first need first.
    pub(super) names: Vec<String>,
    /// Whether some of them lie turned, and what edges they need, in words.
    pub(super) remark: String,
}

/// One cut of a layout.
pub(super) struct CutRow {
    pub(super) number: usize,
    pub(super) way: &'static str,
    pub(super) at: Figure,
    /// Where it begins and ends; empty from edge to edge.
    pub(super) span: Figure,
}

/// One layout with all that drawing it takes.
struct Cutting<'a> {
    item: &'a Item,
    unit: &'a Unit,
    layout: &'a Layout,
    /// Length and width that are drawn; of a long roll only what is taken.
    stock: [Length; 2],
    /// Where each piece lies.
    rests: Vec<Rest>,
    /// The row each piece is in.
    row_of: Vec<usize>,
    rows: Vec<Row>,
    sequence: Sequence,
}

/// Names of pieces by item, length, width and edges.
type Names = BTreeMap<(ItemId, Length, Length, Edges), Vec<String>>;

/// What is done with a layout that is cut for several plans.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Alike {
    /// It is drawn once, and names the others.
    Once,
    /// It is drawn for each.
    Each,
}

/// Returns the layouts of every plan, in the order of its items.
pub(super) fn cards(book: &Book, needs: &Needs, rollup: &Rollup, alike: Alike) -> Vec<Card> {
    let mut cards: Vec<Card> = Vec::new();
    let mut known: BTreeMap<Key, usize> = BTreeMap::new();
    for cost in &rollup.builds {
        let names = names(book, needs, cost);
        for item in &cost.items {
            let Some(nested) = &item.nested else { continue };
            for number in 0..nested.nest.layouts.len() {
                let page = Page { book, needs, cost, item, nested, names: &names, number };
                let cutting = page.cutting();
                let key = cutting.key(item.item, nested);
                let card = page.card(cards.len() + 1, cutting);
                let position = known.get(&key).filter(|_| alike == Alike::Once);
                match position {
                    Some(position) => {
                        let of = nested.nest.layouts.len();
                        let which = format!("layout {} of {of}", number + 1);
                        cards[*position]
                            .also
                            .push(format!("{}, {which}, {}", card.plan, card.repeat));
                    }
                    None => {
                        known.insert(key, cards.len());
                        cards.push(card);
                    }
                }
            }
        }
    }
    cards
}

/// Returns what the pieces of a build are called: the assembly and the remark of each bill line that takes them.
fn names(book: &Book, needs: &Needs, cost: &BuildCost) -> Names {
    let mut names = Names::new();
    for used in needs.uses(&needs.builds[cost.build]) {
        let taken = needs.taken(used.source);
        let line = book.line(taken.line);
        let (Component::Item(item), Take::Pieces(cuts)) = (line.component, &taken.take) else {
            continue;
        };
        let parent = book.parent_name(line.parent);
        let name = match line.further.note.trim() {
            "" => parent.to_owned(),
            note => format!("{parent}: {note}"),
        };
        for cut in cuts {
            let known = names.entry((item, cut.length, cut.width, cut.edges)).or_default();
            if !known.contains(&name) {
                known.push(name.clone());
            }
        }
    }
    names
}

/// One layout of one item of one build.
struct Page<'a> {
    book: &'a Book,
    needs: &'a Needs,
    cost: &'a BuildCost,
    item: &'a ItemCost,
    nested: &'a Nested,
    names: &'a Names,
    number: usize,
}

/// What two layouts that are drawn alike have in common: item, stock, where each size of piece and each offcut lies, and
/// what the pieces are for.
type Key = (ItemId, usize, Vec<(Rest, usize)>, Vec<Rest>, Vec<Vec<String>>);

impl Cutting<'_> {
    fn key(&self, item: ItemId, nested: &Nested) -> Key {
        let size = nested.sizes[self.layout.stock].index();
        let placed = self.rests.iter().copied().zip(self.row_of.iter().copied()).collect();
        let names = self.rows.iter().map(|row| row.names.clone()).collect();
        (item, size, placed, self.layout.offcuts.clone(), names)
    }
}

impl Page<'_> {
    fn card(&self, count: usize, cutting: Cutting<'_>) -> Card {
        let item = cutting.item;
        let layout = cutting.layout;
        let unit = cutting.unit;
        let plan = build_name(self.book, &self.needs.builds[self.cost.build]);
        let of = self.nested.nest.layouts.len();
        let size = &self.book.sizes[self.nested.sizes[layout.stock].index()];
        let lengths: Vec<Length> = size.length.into_iter().chain(size.width).collect();
        let stock = Figure::lengths(shown::size(self.book, size.length, size.width), &lengths);
        let title = format!("{plan}: {}, layout {} of {of}", item.name, self.number + 1);
        let pieces = layout.placements.len();
        let described = match pieces {
            1 => format!("1 piece of {}, layout {}", item.name, self.number + 1),
            _ => format!("{pieces} pieces of {}, layout {}", item.name, self.number + 1),
        };
        let drawing = draw::drawing(&cutting, described);
        let offcuts = layout.offcuts.iter().map(|rest| size_of(rest.length, rest.width, unit));
        Card {
            id: format!("layout-{count}"),
            plan,
            title,
            description: item.description.clone(),
            stock,
            repeat: times(layout.repeat),
            facts: self.facts(&cutting),
            drawing,
            cuts: cut_rows(&cutting),
            is_flat: cutting.stock[1] > Length::ZERO,
            no_cuts: if !cutting.sequence.freed.is_empty() || layout.placements.is_empty() {
                ""
            } else {
                "The pieces interlock: they cannot be parted by cuts from edge to edge."
            },
            offcuts: offcuts.collect(),
            rows: cutting.rows,
            also: Vec::new(),
        }
    }

    fn facts(&self, cutting: &Cutting<'_>) -> Vec<(&'static str, Figure)> {
        let item = cutting.item;
        let percent = |share: &Ratio| Figure::text(format!("{} %", shown::percent(share)));
        let with_unit =
            |length: Length| Figure::lengths(shown::size(self.book, Some(length), None), &[length]);
        let mut facts = Vec::new();
        if let Some(share) = yield_of(cutting) {
            facts.push(("yield of this layout", percent(&share)));
        }
        if let Some(share) = self.item.yield_share() {
            facts.push(("yield of the item", percent(&share)));
        }
        facts.push(("gap of the nest", percent(&self.nested.nest.gap())));
        facts.push(("kerf", with_unit(item.kerf)));
        if item.trim > Length::ZERO {
            facts.push(("trim", with_unit(item.trim)));
        }
        if self.nested.instance.kind.is_roll() {
            facts.push(("taken from the roll", with_unit(cutting.layout.taken)));
        }
        facts
    }

    fn cutting(&self) -> Cutting<'_> {
        let nested = self.nested;
        let instance = &nested.instance;
        let layout = &nested.nest.layouts[self.number];
        let size = &self.book.sizes[nested.sizes[layout.stock].index()];
        let item = self.book.item(self.item.item);
        let unit = &self.book.settings.length_unit;
        let long = size.length.unwrap_or(layout.taken);
        let wide = size.width.filter(|_| instance.kind != Kind::Linear).unwrap_or(Length::ZERO);
        let is_roll = instance.kind.is_roll() && layout.taken > Length::ZERO;
        let stock = [if is_roll { layout.taken } else { long }, wide];
        let rests: Vec<Rest> =
            layout.placements.iter().map(|placement| instance.placed(placement)).collect();
        let sequence = sequence(instance, layout).unwrap_or_default();
        let (rows, row_of) = self.rows(layout, &sequence);
        Cutting { item, unit, layout, stock, rests, row_of, rows, sequence }
    }

    /// Returns the pieces by size, those that come free first first, and the row of each placement.
    fn rows(&self, layout: &Layout, sequence: &Sequence) -> (Vec<Row>, Vec<usize>) {
        let unit = &self.book.settings.length_unit;
        let mut kinds: Vec<usize> = Vec::new();
        let in_order = sequence.freed.iter().copied().chain(0..layout.placements.len());
        for placement in in_order.filter_map(|index| layout.placements.get(index)) {
            if !kinds.contains(&placement.piece) {
                kinds.push(placement.piece);
            }
        }
        let rows = kinds.iter().enumerate().map(|(index, kind)| {
            let piece = &self.nested.instance.pieces[*kind];
            let of_kind = || layout.placements.iter().filter(|placement| placement.piece == *kind);
            let count = u64::try_from(of_kind().count()).unwrap_or(u64::MAX);
            let turned = of_kind().filter(|placement| placement.is_turned).count();
            let edges = match piece.edges {
                Edges::None => None,
                Edges::One => Some("one factory edge".to_owned()),
                Edges::Both => Some("both factory edges".to_owned()),
            };
            let turned = (turned > 0).then(|| format!("{turned} turned"));
            Row {
                mark: mark(index),
                size: size_of(piece.length, piece.width, unit),
                count,
                total: count.saturating_mul(layout.repeat),
                names: self.names_of(*kind),
                remark: edges.into_iter().chain(turned).collect::<Vec<_>>().join(", "),
            }
        });
        let row_of = layout.placements.iter().map(|placement| {
            kinds.iter().position(|kind| *kind == placement.piece).expect("every kind has a row")
        });
        let row_of: Vec<usize> = row_of.collect();
        (rows.collect(), row_of)
    }

    fn names_of(&self, piece: usize) -> Vec<String> {
        let piece = &self.nested.instance.pieces[piece];
        let keys = [(piece.length, piece.width), (piece.width, piece.length)];
        let known = keys.into_iter().find_map(|(length, width)| {
            self.names.get(&(self.item.item, length, width, piece.edges))
        });
        known.cloned().unwrap_or_default()
    }
}

/// Returns the letters of a row: A to Z, then AA, AB and so on.
fn mark(index: usize) -> String {
    let letter =
        |index: usize| char::from(b'A' + u8::try_from(index % 26).expect("it is below 26"));
    if index < 26 {
        letter(index).to_string()
    } else {
        format!("{}{}", mark(index / 26 - 1), letter(index))
    }
}

fn size_of(length: Length, width: Length, unit: &Unit) -> Figure {
    if width > Length::ZERO {
        Figure::lengths(with_unit(shown::sides(length, width, unit), unit), &[length, width])
    } else {
        Figure::lengths(with_unit(shown::length(length, unit), unit), &[length])
    }
}

/// Adds the unit's name, unless the text ends in one.
fn with_unit(text: String, unit: &Unit) -> String {
    if text.contains(" mm") { text } else { format!("{text} {}", unit.name) }
}

fn cut_rows(cutting: &Cutting<'_>) -> Vec<CutRow> {
    let unit = cutting.unit;
    let is_stick = cutting.stock[1] == Length::ZERO;
    let text = |length: Length| shown::length(length, unit);
    let rows = (1..).zip(&cutting.sequence.cuts).map(|(number, cut)| {
        let [from, to] = cut.span;
        CutRow {
            number,
            way: cut.way.name(),
            at: Figure::lengths(text(cut.at), &[cut.at]),
            span: if is_stick || [from, to] == [Length::ZERO, cutting.stock[cut.way.other()]] {
                Figure::default()
            } else {
                Figure::lengths(format!("{} to {}", text(from), text(to)), &[from, to])
            },
        }
    });
    rows.collect()
}

/// Returns the share of the stock, or of what is taken of it, that ends up in pieces.
fn yield_of(cutting: &Cutting<'_>) -> Option<Ratio> {
    let [long, wide] = cutting.stock;
    let extent = |length: Length, width: Length| {
        if wide == Length::ZERO { i128::from(length.nanometers()) } else { length.area(width) }
    };
    let used: i128 = cutting
        .rests
        .iter()
        .chain(&cutting.layout.splices)
        .map(|rest| extent(rest.length, rest.width))
        .sum();
    Ratio::new(used, extent(long, wide))
}
