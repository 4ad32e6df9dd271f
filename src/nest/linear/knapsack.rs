//! The most valuable pattern of one stick, exact, in whole numbers.
//!
//! Dynamic programming over lists: the states are pairs of length used and value reached, of which only those are kept
//! that no other beats in both; items come by falling value per length, so that a state dies as soon as the rest of the
//! stick, filled at the best remaining rate, cannot beat the best known (Martello and Toth, Knapsack Problems, 1990,
//! sections 2.6 and 3). Work grows with the states, which are never more than the lengths that can be reached; a stick
//! of a million units with twenty pieces costs no more than one of a thousand.
//!
//! A splice of the run takes what is left, so it is added where a state is valued, not as an item.

use crate::nest::linear::problem::{Bar, Problem};

/// States kept in one call before it gives up and returns what is proven so far.
const STATE_LIMIT: usize = 2_000_000;

/// How hard to look for the best pattern.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Care {
    /// A good pattern, in the work allowed.
    Good { work: u64 },
    /// The best pattern.
    Best,
}

/// What the items and the run are worth. All values are not below zero.
#[derive(Clone, Debug)]
pub(super) struct Prices {
    /// Value of one of each size.
    pub(super) items: Vec<i64>,
    /// Value of one unit of the run.
    pub(super) run: i64,
}

/// What is known of the best pattern.
pub(super) struct Best {
    /// No pattern is worth more.
    pub(super) ceiling: i64,
    /// The best pattern found that is worth more than was asked.
    pub(super) found: Option<Found>,
    /// States looked at.
    pub(super) work: u64,
}

/// A pattern worth its value.
pub(super) struct Found {
    pub(super) value: i64,
    pub(super) counts: Vec<(usize, i64)>,
    pub(super) splice: i64,
}

/// Copies of one item, taken together or not at all.
struct Layer {
    item: usize,
    copies: i64,
    size: i64,
    value: i64,
}

#[derive(Clone, Copy)]
struct State {
    used: i64,
    value: i64,
    node: usize,
}

/// How a state came to be: from which, by which layer.
struct Node {
    parent: usize,
    layer: usize,
}

/// Returns the best pattern of a stick worth more than `floor`, taking no more of an item than its demand.
pub(super) fn best(problem: &Problem, bar: &Bar, prices: &Prices, floor: i64, care: Care) -> Best {
    let work_limit = match care {
        Care::Good { work } => work,
        Care::Best => u64::MAX,
    };
    let mut search = Search::new(problem, bar, prices, floor);
    search.start();
    let mut states = vec![State { used: 0, value: 0, node: 0 }];
    let mut next = Vec::new();
    let mut work = 0;
    let mut ceiling = search.best;
    for layer in 0..search.layers.len() {
        work += states.len() as u64 + 1;
        if work > work_limit || search.nodes.len() + states.len() > STATE_LIMIT {
            // What is left may still hold a better pattern, but none above the best rate.
            let most = states.iter().map(|state| search.most(state, layer)).max();
            ceiling = most.unwrap_or(search.best);
            break;
        }
        search.step(layer, &states, &mut next);
        std::mem::swap(&mut states, &mut next);
        if states.is_empty() {
            break;
        }
    }
    Best { ceiling: ceiling.max(search.best), found: search.found(), work }
}

struct Search<'a> {
    problem: &'a Problem,
    bar: &'a Bar,
    prices: &'a Prices,
    layers: Vec<Layer>,
    /// Shortest size of each layer and those after it.
    shortest: Vec<i64>,
    /// Best value per size of each layer and those after it, as a size and a value.
    rates: Vec<(i64, i64)>,
    nodes: Vec<Node>,
    best: i64,
    best_node: Option<usize>,
}

impl<'a> Search<'a> {
    fn new(problem: &'a Problem, bar: &'a Bar, prices: &'a Prices, floor: i64) -> Search<'a> {
        let layers = layers(problem, bar, prices);
        let mut shortest = vec![i64::MAX; layers.len() + 1];
        for (index, layer) in layers.iter().enumerate().rev() {
            shortest[index] = shortest[index + 1].min(problem.sizes[layer.item]);
        }
        let run_rate = (1, if problem.run > 0 { prices.run } else { 0 });
        let rates = layers.iter().map(|layer| steeper((layer.size, layer.value), run_rate));
        let rates = rates.chain([run_rate]).collect();
        let nodes = vec![Node { parent: 0, layer: usize::MAX }];
        Search {
            problem,
            bar,
            prices,
            layers,
            shortest,
            rates,
            nodes,
            best: floor,
            best_node: None,
        }
    }

    /// Returns what a stick is worth when its pieces take `used` and are worth `value`.
    fn worth(&self, used: i64, value: i64) -> i64 {
        if self.prices.run == 0 {
            return value;
        }
        value + self.prices.run * self.problem.splice(self.bar, used)
    }

    /// Values the empty stick, and the one filled in order of the layers.
    fn start(&mut self) {
        self.offer(self.worth(0, 0), 0);
        let mut used = 0;
        let mut value = 0;
        let mut node = 0;
        for (index, layer) in self.layers.iter().enumerate() {
            if used + layer.size <= self.bar.capacity {
                used += layer.size;
                value += layer.value;
                self.nodes.push(Node { parent: node, layer: index });
                node = self.nodes.len() - 1;
            }
        }
        self.offer(self.worth(used, value), node);
    }

    fn offer(&mut self, total: i64, node: usize) {
        if total > self.best {
            self.best = total;
            self.best_node = Some(node);
        }
    }

    /// Tells whether the layers from `from` on could lift a state above the best.
    fn is_alive(&self, used: i64, value: i64, from: usize) -> bool {
        let left = self.bar.capacity - used;
        let (size, gain) = self.rates[from];
        left >= self.shortest[from]
            && i128::from(left) * i128::from(gain)
                > i128::from(self.best - value) * i128::from(size)
    }

    /// Returns what a state is worth at most with the layers from `from` on.
    fn most(&self, state: &State, from: usize) -> i64 {
        let (size, gain) = self.rates[from];
        let left = i128::from(self.bar.capacity - state.used) * i128::from(gain);
        let most = left / i128::from(size) + 1 + i128::from(state.value);
        i64::try_from(most).unwrap_or(i64::MAX)
    }

    /// Merges the states with those that take the layer as well, in order of length used; a state that is no more
    /// valuable than one before it is dropped.
    fn step(&mut self, index: usize, states: &[State], next: &mut Vec<State>) {
        next.clear();
        let Layer { size, value, .. } = self.layers[index];
        let mut top = -1;
        let (mut old, mut grown) = (0, 0);
        loop {
            let wide = states
                .get(grown)
                .map(|state| (state.used + size, state.value + value))
                .filter(|(used, _)| *used <= self.bar.capacity);
            match (states.get(old), wide) {
                (None, None) => break,
                (Some(state), other)
                    if other.is_none_or(|(used, value)| {
                        (state.used, -state.value) <= (used, -value)
                    }) =>
                {
                    old += 1;
                    if state.value > top && self.is_alive(state.used, state.value, index + 1) {
                        top = state.value;
                        next.push(*state);
                    }
                }
                (_, Some((used, value))) => {
                    let parent = states[grown].node;
                    grown += 1;
                    let total = self.worth(used, value);
                    let is_alive = value > top && self.is_alive(used, value, index + 1);
                    if !is_alive && total <= self.best {
                        continue;
                    }
                    self.nodes.push(Node { parent, layer: index });
                    let node = self.nodes.len() - 1;
                    self.offer(total, node);
                    if is_alive {
                        top = value;
                        next.push(State { used, value, node });
                    }
                }
                (Some(_), None) => unreachable!("a state with no rival is taken above"),
            }
        }
    }

    fn found(&self) -> Option<Found> {
        let mut node = self.best_node?;
        let mut copies = vec![0; self.problem.sizes.len()];
        let mut used = 0;
        while self.nodes[node].layer != usize::MAX {
            let layer = &self.layers[self.nodes[node].layer];
            copies[layer.item] += layer.copies;
            used += layer.size;
            node = self.nodes[node].parent;
        }
        let counts = copies.into_iter().enumerate().filter(|(_, count)| *count > 0).collect();
        let splice = self.problem.splice(self.bar, used);
        Some(Found { value: self.best, counts, splice })
    }
}

/// Items that are worth something and fit, in bundles of one, two, four and so on copies.
fn layers(problem: &Problem, bar: &Bar, prices: &Prices) -> Vec<Layer> {
    let mut items: Vec<usize> = (0..problem.sizes.len())
        .filter(|item| {
            problem.demand[*item] > 0
                && prices.items[*item] > 0
                && problem.sizes[*item] <= bar.capacity
        })
        .collect();
    items.sort_by(|a, b| {
        let left = i128::from(prices.items[*a]) * i128::from(problem.sizes[*b]);
        let right = i128::from(prices.items[*b]) * i128::from(problem.sizes[*a]);
        right.cmp(&left).then(a.cmp(b))
    });
    let mut layers = Vec::new();
    for item in items {
        let mut left = problem.demand[item].min(bar.capacity / problem.sizes[item]);
        let mut bundle = 1;
        while left > 0 {
            let copies = bundle.min(left);
            layers.push(Layer {
                item,
                copies,
                size: problem.sizes[item] * copies,
                value: prices.items[item] * copies,
            });
            left -= copies;
            bundle *= 2;
        }
    }
    layers
}

/// Returns the steeper of two rates, each a size and a value.
fn steeper(a: (i64, i64), b: (i64, i64)) -> (i64, i64) {
    if i128::from(a.1) * i128::from(b.0) >= i128::from(b.1) * i128::from(a.0) { a } else { b }
}
