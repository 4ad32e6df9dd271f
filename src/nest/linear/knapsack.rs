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

/// States made in one call before it gives up and returns what is proven so far.
const STATE_LIMIT: usize = 2_000_000;

/// What the items and the run are worth. All values are not below zero.
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
pub(super) fn best(problem: &Problem, bar: &Bar, prices: &Prices, floor: i64) -> Best {
    let layers = layers(problem, bar, prices);
    let capacity = bar.capacity;
    let worth = |used: i64, value: i64| value + prices.run * problem.splice(bar, used);
    let mut shortest = vec![i64::MAX; layers.len() + 1];
    for (index, layer) in layers.iter().enumerate().rev() {
        shortest[index] = shortest[index + 1].min(problem.sizes[layer.item]);
    }
    let run_rate = if problem.run > 0 { prices.run } else { 0 };

    let mut nodes = vec![Node { parent: 0, layer: usize::MAX }];
    let mut states = vec![State { used: 0, value: 0, node: 0 }];
    let mut next: Vec<State> = Vec::new();
    let mut best = floor;
    let mut best_node = None;
    if worth(0, 0) > best {
        best = worth(0, 0);
        best_node = Some(0);
    }
    let greedy = greedy(&layers, capacity);
    let greedy_used = greedy.iter().map(|layer| layers[*layer].size).sum();
    let greedy_value = worth(greedy_used, greedy.iter().map(|layer| layers[*layer].value).sum());
    if greedy_value > best {
        best = greedy_value;
        let mut node = 0;
        for layer in greedy {
            nodes.push(Node { parent: node, layer });
            node = nodes.len() - 1;
        }
        best_node = Some(node);
    }

    let mut work = 0;
    let mut ceiling = None;
    for (index, layer) in layers.iter().enumerate() {
        work += states.len() as u64 + 1;
        if nodes.len() + states.len() > STATE_LIMIT {
            ceiling = states.iter().map(|state| fill(state, capacity, layer, run_rate)).max();
            break;
        }
        // What comes after this layer: its rate bounds the value of what is left.
        let (size, value) = layers.get(index + 1).map_or((1, 0), |after| (after.size, after.value));
        let (size, value) = steeper((size, value), (1, run_rate));
        let room = shortest[index + 1];
        let is_alive = |used: i64, reached: i64, best: i64| {
            let left = capacity - used;
            left >= room
                && i128::from(left) * i128::from(value)
                    > i128::from(best - reached) * i128::from(size)
        };
        next.clear();
        let mut top = -1;
        let mut old = 0;
        let mut grown = 0;
        loop {
            let grown_state = states
                .get(grown)
                .map(|state| (state.used + layer.size, state.value + layer.value, state.node))
                .filter(|(used, _, _)| *used <= capacity);
            let old_state = states.get(old);
            let takes_old = match (old_state, grown_state) {
                (None, None) => break,
                (Some(_), None) => true,
                (None, Some(_)) => false,
                (Some(state), Some((used, reached, _))) => {
                    (state.used, -state.value) <= (used, -reached)
                }
            };
            if takes_old {
                let state = states[old];
                old += 1;
                if state.value > top && is_alive(state.used, state.value, best) {
                    top = state.value;
                    next.push(state);
                }
            } else {
                let (used, reached, parent) = grown_state.expect("the other side has ended");
                grown += 1;
                if reached <= top {
                    continue;
                }
                let total = worth(used, reached);
                let is_better = total > best;
                if is_better || is_alive(used, reached, best) {
                    nodes.push(Node { parent, layer: index });
                }
                if is_better {
                    best = total;
                    best_node = Some(nodes.len() - 1);
                }
                if is_alive(used, reached, best) {
                    top = reached;
                    next.push(State { used, value: reached, node: nodes.len() - 1 });
                }
            }
        }
        std::mem::swap(&mut states, &mut next);
        if states.is_empty() {
            break;
        }
    }
    let found = best_node.map(|node| trace(problem, bar, &layers, &nodes, node, best));
    Best { ceiling: ceiling.unwrap_or(best).max(best), found, work }
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

fn greedy(layers: &[Layer], capacity: i64) -> Vec<usize> {
    let mut left = capacity;
    let mut taken = Vec::new();
    for (index, layer) in layers.iter().enumerate() {
        if layer.size <= left {
            left -= layer.size;
            taken.push(index);
        }
    }
    taken
}

/// Returns the steeper of two rates, each a size and a value.
fn steeper(a: (i64, i64), b: (i64, i64)) -> (i64, i64) {
    if i128::from(a.1) * i128::from(b.0) >= i128::from(b.1) * i128::from(a.0) { a } else { b }
}

/// Returns what a state is worth at most when the rest of the stick is filled at the layer's rate.
fn fill(state: &State, capacity: i64, layer: &Layer, run_rate: i64) -> i64 {
    let (size, value) = steeper((layer.size, layer.value), (1, run_rate));
    let left = i128::from(capacity - state.used) * i128::from(value);
    let rest = left / i128::from(size) + 1;
    i64::try_from(rest + i128::from(state.value)).unwrap_or(i64::MAX)
}

fn trace(
    problem: &Problem,
    bar: &Bar,
    layers: &[Layer],
    nodes: &[Node],
    mut node: usize,
    value: i64,
) -> Found {
    let mut copies = vec![0; problem.sizes.len()];
    let mut used = 0;
    while nodes[node].layer != usize::MAX {
        let layer = &layers[nodes[node].layer];
        copies[layer.item] += layer.copies;
        used += layer.size;
        node = nodes[node].parent;
    }
    let counts = copies.into_iter().enumerate().filter(|(_, count)| *count > 0).collect();
    Found { value, counts, splice: problem.splice(bar, used) }
}
