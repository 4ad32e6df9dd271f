//! One bin filled from its low end, the lowest place first.
//!
//! Idea: best fit on a skyline (Burke, Kendall and Whitwell, "A new placement heuristic for the orthogonal stock-cutting
//! problem", 2004): what is filled ends in a line of steps; the step that lies lowest takes the piece that fits it best, by
//! classes of how many of its sides come out even (Leung, Zhang and Sim, "A two-stage intelligent search algorithm for the
//! two-dimensional strip packing problem", 2011). Pieces of one class go by their order, which is what a search changes. A
//! bin costs as many steps as pieces put in times pieces left.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::rect::problem::{Fit, Problem, Side};
use crate::nest::rect::tree::Placed;

/// A piece in the order in which pieces are looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Entry {
    /// Position in the problem's items.
    pub(super) item: usize,
    /// Whether the way it lies last is looked at first.
    pub(super) is_flipped: bool,
}

/// The part of a bin that may be filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Part {
    /// Position in the problem's bins.
    pub(super) bin: usize,
    /// Extent along the length, at most the bin's.
    pub(super) length: i64,
}

/// Which piece a step takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Choosing {
    /// The one that comes out even on most sides.
    Even,
    /// The first that fits.
    First,
}

/// A step of the skyline.
#[derive(Clone, Copy, Debug)]
struct Step {
    x: i64,
    y: i64,
    width: i64,
}

/// A piece that may lie on a step.
#[derive(Clone, Copy)]
struct Choice {
    class: i32,
    position: u32,
    fit: Fit,
    is_high: bool,
}

/// No entry.
const NONE: u32 = u32::MAX;

/// What is left of an order of pieces while bins are filled from it.
pub(super) struct Filling<'a> {
    problem: &'a Problem,
    order: &'a [Entry],
    /// The next entry that is left, for the head and each entry.
    next: &'a mut Vec<u32>,
    steps: &'a mut Vec<Step>,
    choosing: Choosing,
    /// Area that no piece can take any more.
    waste: f64,
    /// Work done.
    pub(super) work: u64,
}

/// Memory that is used again from one filling to the next.
#[derive(Default)]
pub(super) struct Scratch {
    next: Vec<u32>,
    steps: Vec<Step>,
}

impl<'a> Filling<'a> {
    /// Returns a filling with every piece left.
    pub(super) fn new(
        problem: &'a Problem,
        order: &'a [Entry],
        choosing: Choosing,
        scratch: &'a mut Scratch,
    ) -> Filling<'a> {
        let count = u32::try_from(order.len()).expect("pieces are fewer than 2^32");
        scratch.next.clear();
        scratch.next.extend((0..count).chain([NONE]));
        let Scratch { next, steps } = scratch;
        Filling { problem, order, next, steps, choosing, waste: 0.0, work: 0 }
    }

    /// Returns the entries that are left.
    pub(super) fn left(&self) -> impl Iterator<Item = Entry> {
        let mut at = self.next[0];
        std::iter::from_fn(move || {
            let entry = *self.order.get(at as usize)?;
            at = self.next[at as usize + 1];
            Some(entry)
        })
    }

    /// Fills a part of a bin; nothing once more than `allowed` area is wasted.
    pub(super) fn fill(&mut self, part: Part, allowed: f64) -> Option<Vec<Placed>> {
        let mut placed = Vec::new();
        let width = self.problem.bins[part.bin].width;
        self.steps.clear();
        self.steps.push(Step { x: 0, y: 0, width });
        // A width below which no piece is left.
        let mut narrowest = 0;
        while self.next[0] != NONE {
            let lowest = self.lowest();
            self.work += 2 + self.steps.len() as u64 / 4;
            let choice = if self.steps[lowest].width < narrowest {
                None
            } else {
                self.best(part, lowest, width, &mut narrowest)
            };
            if let Some(choice) = choice {
                placed.push(self.put(lowest, choice));
                continue;
            }
            let step = self.steps[lowest];
            let level = self.beside(lowest, i64::MAX).into_iter().min().unwrap_or(i64::MAX);
            let level = level.min(part.length);
            self.waste += (level - step.x) as f64 * step.width as f64;
            if self.waste > allowed {
                return None;
            }
            if level == part.length {
                // The lowest step is as high as can be.
                if self.steps.len() == 1 {
                    break;
                }
            }
            self.steps[lowest].x = level;
            if self.steps.iter().all(|step| step.x >= part.length) {
                break;
            }
            self.join(lowest);
        }
        Some(placed)
    }

    fn lowest(&self) -> usize {
        let mut lowest = 0;
        for (index, step) in self.steps.iter().enumerate() {
            if step.x < self.steps[lowest].x {
                lowest = index;
            }
        }
        lowest
    }

    /// Returns how high the skyline is on both sides of a step; the bin's sides are as high as `wall`.
    fn beside(&self, index: usize, wall: i64) -> [i64; 2] {
        let low = if index == 0 { wall } else { self.steps[index - 1].x };
        [low, self.steps.get(index + 1).map_or(wall, |step| step.x)]
    }

    fn best(
        &mut self,
        part: Part,
        index: usize,
        bin_width: i64,
        narrowest: &mut i64,
    ) -> Option<Choice> {
        let step = self.steps[index];
        let room = part.length - step.x;
        let [low, high] = self.beside(index, part.length).map(|x| x - step.x);
        let (at_low, at_high) = (step.y == 0, step.y + step.width == bin_width);
        let mut best: Option<Choice> = None;
        let mut least_width = i64::MAX;
        let mut last_item = usize::MAX;
        let (mut before, mut work) = (0_u32, 0_u64);
        while let Some(entry) = self.order.get(self.next[before as usize] as usize) {
            let position = before;
            before = self.next[before as usize] + 1;
            if entry.item == last_item {
                continue;
            }
            last_item = entry.item;
            let fits = &self.problem.items[entry.item].fits[part.bin];
            for turn in 0..fits.len() {
                work += 1;
                let fit = &fits[if entry.is_flipped { fits.len() - 1 - turn } else { turn }];
                least_width = least_width.min(fit.width);
                if fit.length > room || fit.width > step.width {
                    continue;
                }
                let mut is_high = high > low;
                if fit.side == Side::Edge {
                    if !at_low && !at_high {
                        continue;
                    }
                    is_high = !at_low;
                }
                let evens = i32::from(fit.length == low) + i32::from(fit.length == high);
                let class = if fit.width == step.width {
                    8 + 2 * evens
                } else {
                    if fit.side != Side::Edge && evens > 0 {
                        is_high = fit.length != low;
                    }
                    let rest = step.width - fit.width;
                    4 * evens.min(1) - if rest < *narrowest { 3 } else { 0 }
                };
                if self.choosing == Choosing::First {
                    self.work += work;
                    return Some(Choice { class, position, fit: *fit, is_high });
                }
                if best.as_ref().is_none_or(|best| class > best.class) {
                    best = Some(Choice { class, position, fit: *fit, is_high });
                }
            }
            if best.as_ref().is_some_and(|best| best.class == 12) {
                break;
            }
        }
        if least_width != i64::MAX && best.as_ref().is_none_or(|best| best.class < 12) {
            *narrowest = least_width;
        }
        self.work += work;
        best
    }

    fn put(&mut self, index: usize, choice: Choice) -> Placed {
        let Choice { position, fit, is_high, .. } = choice;
        let entry = self.next[position as usize];
        self.next[position as usize] = self.next[entry as usize + 1];
        let step = self.steps[index];
        let rest = step.width - fit.width;
        let y = if is_high { step.y + rest } else { step.y };
        let raised = Step { x: step.x + fit.length, y, width: fit.width };
        if rest == 0 {
            self.steps[index] = raised;
            self.join(index);
        } else if is_high {
            self.steps[index].width = rest;
            self.steps.insert(index + 1, raised);
            self.join(index + 1);
        } else {
            self.steps[index] = Step { y: step.y + fit.width, width: rest, ..step };
            self.steps.insert(index, raised);
            self.join(index);
        }
        Placed {
            x: step.x,
            y,
            length: fit.length,
            width: fit.width,
            item: self.order[entry as usize].item,
            is_turned: fit.is_turned,
        }
    }

    /// Joins a step with those beside it that are as high.
    fn join(&mut self, index: usize) {
        if self.steps.get(index + 1).is_some_and(|next| next.x == self.steps[index].x) {
            self.steps[index].width += self.steps.remove(index + 1).width;
        }
        if index > 0 && self.steps[index - 1].x == self.steps[index].x {
            self.steps[index - 1].width += self.steps.remove(index).width;
        }
    }
}
