//! A sheet as a tree of edge-to-edge cuts.
//!
//! A node is a rectangle: waste, a piece, or a cut into children side by side. Children fill their parent exactly and
//! never have its direction, so a tree is a guillotine layout whatever is done to it. The nodes lie in one list and name
//! each other by position: copying a sheet copies plain memory, and a piece put into a gap touches that gap's node only.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_precision_loss,
    reason = "search weights: they choose among valid packings and never reach a cost or a bound"
)]

use crate::nest::rect::problem::{Fit, Problem, Side};

/// The direction in which the children of a cut follow each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Axis {
    /// Along the length: the cuts go across.
    Length,
    /// Along the width.
    Width,
}

/// One bin with what lies in it.
#[derive(Clone, Debug)]
pub(super) struct Sheet {
    /// Position in the problem's bins.
    pub(super) bin: usize,
    /// Extent that may be used along the length; below the bin's when a roll is to be charged less.
    pub(super) length: i64,
    /// Extent along the width.
    pub(super) width: i64,
    /// The root comes first.
    nodes: Vec<Node>,
    /// First of the nodes that are not in use.
    unused: u32,
    piece_count: usize,
    gaps: Vec<Gap>,
    /// The node of each gap.
    gap_nodes: Vec<u32>,
    /// Extents of the longest and of the widest gap.
    longest: i64,
    widest: i64,
    waste: f64,
    gathered: f64,
    /// Whether stages are limited, and so counted.
    counts_stages: bool,
    /// Whether the first stage is across the length, as of a roll.
    starts_across: bool,
}

/// A rectangle of waste.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Gap {
    pub(super) x: i64,
    pub(super) y: i64,
    pub(super) length: i64,
    pub(super) width: i64,
}

/// A piece in a sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Placed {
    pub(super) x: i64,
    pub(super) y: i64,
    pub(super) length: i64,
    pub(super) width: i64,
    pub(super) item: usize,
    pub(super) is_turned: bool,
}

/// No node.
const NONE: u32 = u32::MAX;
const ROOT: u32 = 0;

#[derive(Clone, Copy, Debug)]
struct Node {
    length: i64,
    width: i64,
    parent: u32,
    /// The next child of its parent, or the next unused node.
    next: u32,
    /// Where stages are counted: those of a cut; for waste, those of the sheet if a piece lay in it.
    stages: u32,
    content: Content,
}

/// The children of a cut that hold pieces.
struct Filled {
    count: usize,
    /// The most stages of one, and of another.
    deepest: u32,
    second: u32,
}

#[derive(Clone, Copy, Debug)]
enum Content {
    Waste,
    Piece { item: u32, is_turned: bool },
    Cut { axis: Axis, first: u32 },
}

impl Sheet {
    /// Returns a sheet that is all waste.
    pub(super) fn new(problem: &Problem, bin: usize, length: i64) -> Sheet {
        let width = problem.bins[bin].width;
        let content = Content::Waste;
        let root = Node { length, width, parent: NONE, next: NONE, stages: 0, content };
        let mut sheet = Sheet {
            bin,
            length,
            width,
            nodes: vec![root],
            unused: NONE,
            piece_count: 0,
            gaps: vec![Gap { x: 0, y: 0, length, width }],
            gap_nodes: vec![ROOT],
            longest: 0,
            widest: 0,
            waste: 0.0,
            gathered: 0.0,
            counts_stages: problem.max_stages.is_some(),
            starts_across: problem.is_roll,
        };
        sheet.measure();
        sheet
    }

    /// Returns the rectangles of waste.
    pub(super) fn gaps(&self) -> &[Gap] {
        &self.gaps
    }

    /// Returns the position of the gap with that low corner, which there is.
    pub(super) fn gap_at(&self, x: i64, y: i64) -> usize {
        let is_there = |gap: &Gap| (gap.x, gap.y) == (x, y);
        self.gaps.iter().position(is_there).expect("the place was cut out")
    }

    /// Tells whether nothing lies in it.
    pub(super) fn is_empty(&self) -> bool {
        self.piece_count == 0
    }

    /// Returns how many pieces lie in it.
    pub(super) fn piece_count(&self) -> usize {
        self.piece_count
    }

    /// Returns how many nodes there are: what copying it costs.
    pub(super) fn size(&self) -> u64 {
        self.nodes.len() as u64
    }

    /// Returns the area of the gaps.
    pub(super) fn waste(&self) -> f64 {
        self.waste
    }

    /// Returns how much the gaps are gathered in few large ones: the sum of their squared areas, for the sheet's area.
    pub(super) fn gathered(&self) -> f64 {
        self.gathered
    }

    /// Returns the pieces, in order of the tree.
    pub(super) fn placed(&self) -> Vec<Placed> {
        let mut placed = Vec::with_capacity(self.piece_count);
        self.visit(ROOT, 0, 0, &mut |_, node, x, y| {
            if let Content::Piece { item, is_turned } = node.content {
                let (length, width) = (node.length, node.width);
                placed.push(Placed { x, y, length, width, item: item as usize, is_turned });
            }
        });
        placed
    }

    /// Returns the items of the pieces, in no order that means anything.
    pub(super) fn items(&self) -> impl Iterator<Item = usize> {
        self.nodes.iter().filter_map(|node| match node.content {
            Content::Piece { item, .. } => Some(item as usize),
            _ => None,
        })
    }

    /// Puts the item of each position in place of the position.
    pub(super) fn rename(&mut self, items: &[usize]) {
        for node in &mut self.nodes {
            if let Content::Piece { item, .. } = &mut node.content {
                *item = u32::try_from(items[*item as usize]).expect("items are fewer than 2^32");
            }
        }
    }

    /// Tells whether a piece may lie in a gap, as to size and factory edges.
    pub(super) fn admits(&self, gap: &Gap, fit: &Fit) -> bool {
        fit.length <= gap.length
            && fit.width <= gap.width
            && (fit.side != Side::Edge || gap.y == 0 || gap.y + gap.width == self.width)
    }

    /// Tells whether there may be a gap for a piece, from the longest and the widest.
    pub(super) fn may_admit(&self, fit: &Fit) -> bool {
        fit.length <= self.longest && fit.width <= self.widest
    }

    /// Puts a piece into a corner of a gap, by the gap's position, cutting along `axis` first.
    pub(super) fn insert(&mut self, gap: usize, item: usize, fit: &Fit, axis: Axis) {
        let is_high = fit.side == Side::Edge && self.gaps[gap].y != 0;
        let node = self.gap_nodes.swap_remove(gap);
        let mut rest = self.gaps.swap_remove(gap);
        let (first, second) = match axis {
            Axis::Length => ((Axis::Length, fit.length), (Axis::Width, fit.width)),
            Axis::Width => ((Axis::Width, fit.width), (Axis::Length, fit.length)),
        };
        let mut node = node;
        for (axis, extent) in [first, second] {
            node = self.part(node, &mut rest, axis, extent, is_high && axis == Axis::Width);
        }
        let item = u32::try_from(item).expect("items are fewer than 2^32");
        self.nodes[node as usize].content = Content::Piece { item, is_turned: fit.is_turned };
        self.piece_count += 1;
        self.measure();
    }

    /// Parts a gap in two: the low one keeps the position, the high one comes last.
    pub(super) fn cut(&mut self, gap: usize, axis: Axis, extent: i64) {
        let mut low = self.gaps[gap];
        self.gap_nodes[gap] = self.part(self.gap_nodes[gap], &mut low, axis, extent, false);
        self.gaps[gap] = low;
    }

    /// Parts waste; returns the node of `extent` and makes `gap` its place. The other part becomes a gap.
    fn part(&mut self, node: u32, gap: &mut Gap, axis: Axis, extent: i64, takes_high: bool) -> u32 {
        let whole = self.nodes[node as usize].extent(axis);
        if extent == whole {
            return node;
        }
        let parent = self.nodes[node as usize].parent;
        let is_along = parent != NONE && self.nodes[parent as usize].axis() == Some(axis);
        let low = if is_along { node } else { self.unused_node(node, node) };
        let high = self.unused_node(node, if is_along { parent } else { node });
        if is_along {
            self.nodes[high as usize].next = self.nodes[low as usize].next;
        } else {
            self.nodes[node as usize].content = Content::Cut { axis, first: low };
            self.nodes[high as usize].next = NONE;
        }
        self.nodes[low as usize].next = high;
        let low_extent = if takes_high { whole - extent } else { extent };
        self.nodes[low as usize].set_extent(axis, low_extent);
        self.nodes[high as usize].set_extent(axis, whole - low_extent);
        let mut other = *gap;
        let (low_gap, high_gap) =
            if takes_high { (&mut other, &mut *gap) } else { (&mut *gap, &mut other) };
        match axis {
            Axis::Length => {
                low_gap.length = low_extent;
                high_gap.x += low_extent;
                high_gap.length = whole - low_extent;
            }
            Axis::Width => {
                low_gap.width = low_extent;
                high_gap.y += low_extent;
                high_gap.width = whole - low_extent;
            }
        }
        let (taken, left) = if takes_high { (high, low) } else { (low, high) };
        self.gaps.push(other);
        self.gap_nodes.push(left);
        taken
    }

    /// Returns waste as large as a node.
    fn unused_node(&mut self, like: u32, parent: u32) -> u32 {
        let node = Node { parent, content: Content::Waste, ..self.nodes[like as usize] };
        if self.unused == NONE {
            self.nodes.push(node);
            return u32::try_from(self.nodes.len() - 1).expect("nodes are fewer than 2^32");
        }
        let index = self.unused;
        self.unused = self.nodes[index as usize].next;
        self.nodes[index as usize] = node;
        index
    }

    /// Takes out a piece, by its position among the pieces, with all that lies in the `levels`-th node above it.
    pub(super) fn remove(&mut self, piece: usize, levels: usize, keeps_rows: bool) -> Vec<usize> {
        let is_piece = |node: &&Node| matches!(node.content, Content::Piece { .. });
        let mut pieces = (0_u32..).zip(&self.nodes).filter(|(_, node)| is_piece(node));
        let (mut node, _) = pieces.nth(piece).expect("the position is below the count");
        for _ in 0..levels {
            let parent = self.nodes[node as usize].parent;
            if parent != NONE {
                node = parent;
            }
        }
        let mut removed = Vec::new();
        self.empty(node, &mut removed);
        self.piece_count -= removed.len();
        while let Some(parent) = self.gather(self.nodes[node as usize].parent, keeps_rows) {
            node = parent;
        }
        self.find_gaps();
        removed
    }

    /// Gathers the waste of every cut.
    pub(super) fn tidy(&mut self, keeps_rows: bool) {
        let mut cuts = Vec::new();
        self.visit(ROOT, 0, 0, &mut |index, node, _, _| {
            if node.axis().is_some() {
                cuts.push(index);
            }
        });
        for cut in cuts.into_iter().rev() {
            self.gather(cut, keeps_rows);
        }
        self.find_gaps();
    }

    /// Makes a node waste and lists the pieces in it.
    fn empty(&mut self, node: u32, removed: &mut Vec<usize>) {
        match self.nodes[node as usize].content {
            Content::Waste => {}
            Content::Piece { item, .. } => removed.push(item as usize),
            Content::Cut { first, .. } => {
                let mut child = first;
                while child != NONE {
                    let next = self.nodes[child as usize].next;
                    self.empty(child, removed);
                    self.discard(child);
                    child = next;
                }
            }
        }
        self.nodes[node as usize].content = Content::Waste;
    }

    fn discard(&mut self, node: u32) {
        self.nodes[node as usize].content = Content::Waste;
        self.nodes[node as usize].next = self.unused;
        self.unused = node;
    }

    /// Joins the waste of a cut: at its end, or, to keep rows where they are, what lies side by side. Returns the cut if
    /// it has become waste.
    fn gather(&mut self, cut: u32, keeps_rows: bool) -> Option<u32> {
        if cut == NONE {
            return None;
        }
        let Content::Cut { axis, first } = self.nodes[cut as usize].content else { return None };
        let stays = keeps_rows && axis == Axis::Width;
        // The last child that is kept, and the waste that more may be joined to.
        let (mut last, mut joined) = (NONE, NONE);
        let mut child = first;
        while child != NONE {
            let node = self.nodes[child as usize];
            if matches!(node.content, Content::Waste) {
                if joined == NONE {
                    joined = child;
                    if stays {
                        self.follow(cut, last, child);
                        last = child;
                    }
                } else {
                    let extent = self.nodes[joined as usize].extent(axis) + node.extent(axis);
                    self.nodes[joined as usize].set_extent(axis, extent);
                    self.discard(child);
                }
            } else {
                if stays {
                    joined = NONE;
                }
                self.follow(cut, last, child);
                last = child;
            }
            child = node.next;
        }
        if !stays && joined != NONE {
            self.follow(cut, last, joined);
            last = joined;
        }
        self.nodes[last as usize].next = NONE;
        let Content::Cut { first, .. } = self.nodes[cut as usize].content else { return None };
        if first != last {
            return None;
        }
        // A cut holds two nodes or more, so the only one left is all waste.
        self.discard(first);
        self.nodes[cut as usize].content = Content::Waste;
        Some(cut)
    }

    /// Makes a node the child after `last`, or the first.
    fn follow(&mut self, cut: u32, last: u32, child: u32) {
        if last != NONE {
            self.nodes[last as usize].next = child;
        } else if let Content::Cut { first, .. } = &mut self.nodes[cut as usize].content {
            *first = child;
        }
    }

    /// Returns how many stages of cuts part the pieces.
    pub(super) fn stages(&self) -> u32 {
        let (stages, first) = self.stages_of(ROOT);
        stages + self.stages_before(first)
    }

    /// Returns how many stages go before the first cut that parts pieces: a roll is cut across first.
    fn stages_before(&self, first: Option<Axis>) -> u32 {
        u32::from(self.starts_across && first == Some(Axis::Width))
    }

    /// Returns how many stages there are with one more piece in a gap; its cuts part it from waste only, so neither its
    /// size nor their direction matters.
    pub(super) fn stages_with(&self, gap: usize) -> u32 {
        self.nodes[self.gap_nodes[gap] as usize].stages
    }

    /// Returns how far along the length pieces reach.
    pub(super) fn extent(&self) -> i64 {
        self.placed().iter().map(|placed| placed.x + placed.length).max().unwrap_or(0)
    }

    fn find_gaps(&mut self) {
        let mut gaps = std::mem::take(&mut self.gaps);
        let mut nodes = std::mem::take(&mut self.gap_nodes);
        gaps.clear();
        nodes.clear();
        self.visit(ROOT, 0, 0, &mut |index, node, x, y| {
            if matches!(node.content, Content::Waste) {
                gaps.push(Gap { x, y, length: node.length, width: node.width });
                nodes.push(index);
            }
        });
        self.gaps = gaps;
        self.gap_nodes = nodes;
        self.measure();
    }

    fn measure(&mut self) {
        (self.longest, self.widest, self.waste, self.gathered) = (0, 0, 0.0, 0.0);
        for gap in &self.gaps {
            self.longest = self.longest.max(gap.length);
            self.widest = self.widest.max(gap.width);
            let area = gap.length as f64 * gap.width as f64;
            self.waste += area;
            self.gathered += area * area;
        }
        self.gathered /= self.length as f64 * self.width as f64;
        if self.counts_stages {
            self.count_stages(ROOT);
            self.spread_stages(ROOT, 0, 0, None);
        }
    }

    /// Counts the stages of each cut, from the leaves up.
    fn count_stages(&mut self, index: u32) {
        let Content::Cut { first, .. } = self.nodes[index as usize].content else { return };
        let mut child = first;
        while child != NONE {
            self.count_stages(child);
            child = self.nodes[child as usize].next;
        }
        let filled = self.filled(first);
        self.nodes[index as usize].stages = filled.deepest + u32::from(filled.count > 1);
    }

    /// Finds the stages of the sheet with a piece in each node of waste, from the root down. Were the stages of the node
    /// `own`, those of the sheet were `own + above`, but at least `least`; `outer` is the first cut above that parts pieces.
    fn spread_stages(&mut self, index: u32, above: u32, least: u32, outer: Option<Axis>) {
        let Content::Cut { axis, first } = self.nodes[index as usize].content else {
            self.nodes[index as usize].stages = least + self.stages_before(outer);
            return;
        };
        let filled = self.filled(first);
        let mut child = first;
        while child != NONE {
            let node = self.nodes[child as usize];
            let is_filled = !matches!(node.content, Content::Waste);
            let parts = filled.count > usize::from(is_filled);
            let above = above + u32::from(parts);
            let outer = outer.or(parts.then_some(axis));
            let is_deepest = node.axis().is_some() && node.stages == filled.deepest;
            let others = if is_deepest { filled.second } else { filled.deepest };
            if node.axis().is_some() || !is_filled {
                self.spread_stages(child, above, least.max(others + above), outer);
            }
            child = node.next;
        }
    }

    fn filled(&self, first: u32) -> Filled {
        let mut filled = Filled { count: 0, deepest: 0, second: 0 };
        let mut child = first;
        while child != NONE {
            let node = &self.nodes[child as usize];
            if !matches!(node.content, Content::Waste) {
                filled.count += 1;
                let stages = if node.axis().is_some() { node.stages } else { 0 };
                filled.second = filled.second.max(stages.min(filled.deepest));
                filled.deepest = filled.deepest.max(stages);
            }
            child = node.next;
        }
        filled
    }

    fn visit(&self, index: u32, x: i64, y: i64, see: &mut impl FnMut(u32, &Node, i64, i64)) {
        let node = &self.nodes[index as usize];
        see(index, node, x, y);
        let Content::Cut { axis, first } = node.content else { return };
        let (mut child, mut x, mut y) = (first, x, y);
        while child != NONE {
            self.visit(child, x, y, see);
            let node = &self.nodes[child as usize];
            match axis {
                Axis::Length => x += node.length,
                Axis::Width => y += node.width,
            }
            child = node.next;
        }
    }

    /// Returns the stages of cuts and the direction of the first that parts pieces.
    fn stages_of(&self, index: u32) -> (u32, Option<Axis>) {
        let Content::Cut { axis, first } = self.nodes[index as usize].content else {
            return (0, None);
        };
        let (mut deepest, mut filled_count) = ((0, None), 0);
        let mut child = first;
        while child != NONE {
            let node = &self.nodes[child as usize];
            if !matches!(node.content, Content::Waste) {
                filled_count += 1;
                let stages = self.stages_of(child);
                if stages.0 > deepest.0 {
                    deepest = stages;
                }
            }
            child = node.next;
        }
        if filled_count > 1 { (deepest.0 + 1, Some(axis)) } else { deepest }
    }
}

impl Node {
    fn axis(&self) -> Option<Axis> {
        match self.content {
            Content::Cut { axis, .. } => Some(axis),
            _ => None,
        }
    }

    fn extent(&self, axis: Axis) -> i64 {
        match axis {
            Axis::Length => self.length,
            Axis::Width => self.width,
        }
    }

    fn set_extent(&mut self, axis: Axis, extent: i64) {
        match axis {
            Axis::Length => self.length = extent,
            Axis::Width => self.width = extent,
        }
    }
}
