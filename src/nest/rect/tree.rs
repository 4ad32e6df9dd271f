//! A sheet as a tree of edge-to-edge cuts.
//!
//! A node is a rectangle: waste, a piece, or a cut into children side by side. Children fill their parent exactly and
//! never have its direction, so a tree is a guillotine layout whatever is done to it.

use crate::nest::rect::problem::{Fit, Side};

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
    root: Node,
    gaps: Vec<Gap>,
    /// Extents of the longest and of the widest gap.
    longest: i64,
    widest: i64,
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

#[derive(Clone, Debug)]
struct Node {
    length: i64,
    width: i64,
    content: Content,
}

#[derive(Clone, Debug)]
enum Content {
    Waste,
    Piece { item: usize, is_turned: bool },
    Cut { axis: Axis, children: Vec<Node> },
}

impl Sheet {
    /// Returns a sheet that is all waste.
    pub(super) fn new(bin: usize, length: i64, width: i64) -> Sheet {
        let gap = Gap { x: 0, y: 0, length, width };
        Sheet {
            bin,
            length,
            width,
            root: Node::waste(length, width),
            gaps: vec![gap],
            longest: length,
            widest: width,
        }
    }

    /// Returns the rectangles of waste.
    pub(super) fn gaps(&self) -> &[Gap] {
        &self.gaps
    }

    /// Tells whether nothing lies in it.
    pub(super) fn is_empty(&self) -> bool {
        matches!(self.root.content, Content::Waste)
    }

    /// Returns the pieces, in order of the tree.
    pub(super) fn placed(&self) -> Vec<Placed> {
        let mut placed = Vec::new();
        self.root.visit(0, 0, &mut |node, x, y| {
            if let Content::Piece { item, is_turned } = node.content {
                let (length, width) = (node.length, node.width);
                placed.push(Placed { x, y, length, width, item, is_turned });
            }
        });
        placed
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

    /// Puts a piece into a corner of a gap, cutting along `axis` first.
    pub(super) fn insert(&mut self, gap: &Gap, item: usize, fit: &Fit, axis: Axis) {
        let is_high = fit.side == Side::Edge && gap.y != 0;
        self.root.insert(gap, item, fit, axis, is_high);
        self.find_gaps();
    }

    /// Takes out the piece at a corner, with all that lies in the `levels`-th node above it.
    pub(super) fn remove(
        &mut self,
        placed: &Placed,
        levels: usize,
        keeps_rows: bool,
    ) -> Vec<usize> {
        let depth = self.root.depth_at(placed.x, placed.y);
        let mut removed = Vec::new();
        let node = self.root.node_at(placed.x, placed.y, depth.saturating_sub(levels));
        node.visit(0, 0, &mut |node, _, _| {
            if let Content::Piece { item, .. } = node.content {
                removed.push(item);
            }
        });
        node.content = Content::Waste;
        self.root.tidy(keeps_rows);
        self.find_gaps();
        removed
    }

    /// Returns how many stages of cuts part the pieces.
    pub(super) fn stages(&self, starts_across: bool) -> u32 {
        let (stages, first) = self.root.stages();
        stages + u32::from(starts_across && first == Some(Axis::Width))
    }

    /// Returns how far along the length pieces reach.
    pub(super) fn extent(&self) -> i64 {
        self.placed().iter().map(|placed| placed.x + placed.length).max().unwrap_or(0)
    }

    fn find_gaps(&mut self) {
        let mut gaps = std::mem::take(&mut self.gaps);
        gaps.clear();
        self.root.visit(0, 0, &mut |node, x, y| {
            if matches!(node.content, Content::Waste) {
                gaps.push(Gap { x, y, length: node.length, width: node.width });
            }
        });
        self.longest = gaps.iter().map(|gap| gap.length).max().unwrap_or(0);
        self.widest = gaps.iter().map(|gap| gap.width).max().unwrap_or(0);
        self.gaps = gaps;
    }
}

impl Node {
    fn waste(length: i64, width: i64) -> Node {
        Node { length, width, content: Content::Waste }
    }

    fn visit(&self, x: i64, y: i64, see: &mut impl FnMut(&Node, i64, i64)) {
        see(self, x, y);
        let Content::Cut { axis, children } = &self.content else { return };
        let (mut x, mut y) = (x, y);
        for child in children {
            child.visit(x, y, see);
            match axis {
                Axis::Length => x += child.length,
                Axis::Width => y += child.width,
            }
        }
    }

    /// Returns the position of the child that holds a point, and the point seen from its corner.
    fn child_at(axis: Axis, children: &[Node], x: i64, y: i64) -> (usize, i64, i64) {
        let mut along = match axis {
            Axis::Length => x,
            Axis::Width => y,
        };
        for (index, child) in children.iter().enumerate() {
            let extent = child.extent(axis);
            if along < extent {
                return match axis {
                    Axis::Length => (index, along, y),
                    Axis::Width => (index, x, along),
                };
            }
            along -= extent;
        }
        unreachable!("children fill their parent")
    }

    fn extent(&self, axis: Axis) -> i64 {
        match axis {
            Axis::Length => self.length,
            Axis::Width => self.width,
        }
    }

    fn depth_at(&self, x: i64, y: i64) -> usize {
        match &self.content {
            Content::Cut { axis, children } => {
                let (index, x, y) = Node::child_at(*axis, children, x, y);
                1 + children[index].depth_at(x, y)
            }
            _ => 0,
        }
    }

    fn node_at(&mut self, x: i64, y: i64, depth: usize) -> &mut Node {
        if depth == 0 {
            return self;
        }
        match &mut self.content {
            Content::Cut { axis, children } => {
                let (index, x, y) = Node::child_at(*axis, children, x, y);
                children[index].node_at(x, y, depth - 1)
            }
            _ => unreachable!("the depth of a leaf ends at the leaf"),
        }
    }

    fn insert(&mut self, gap: &Gap, item: usize, fit: &Fit, first: Axis, is_high: bool) {
        let (mut node, mut x, mut y) = (self, gap.x, gap.y);
        loop {
            let Node { content: Content::Cut { axis, children }, .. } = node else {
                *node = node.split(item, fit, first, is_high);
                return;
            };
            let (index, child_x, child_y) = Node::child_at(*axis, children, x, y);
            if matches!(children[index].content, Content::Waste) {
                let filled = children[index].split(item, fit, first, is_high);
                match filled.content {
                    Content::Cut { axis: inner, children: parts } if inner == *axis => {
                        children.splice(index..=index, parts);
                    }
                    _ => children[index] = filled,
                }
                return;
            }
            (node, x, y) = (&mut children[index], child_x, child_y);
        }
    }

    /// Returns waste with a piece in its low or high corner.
    fn split(&self, item: usize, fit: &Fit, first: Axis, is_high: bool) -> Node {
        let piece = Node {
            length: fit.length,
            width: fit.width,
            content: Content::Piece { item, is_turned: fit.is_turned },
        };
        let (beside, above) = (self.length - fit.length, self.width - fit.width);
        match first {
            Axis::Length => {
                piece.joined(Axis::Width, above, is_high).joined(Axis::Length, beside, false)
            }
            Axis::Width => {
                piece.joined(Axis::Length, beside, false).joined(Axis::Width, above, is_high)
            }
        }
    }

    fn joined(self, axis: Axis, extent: i64, is_high: bool) -> Node {
        if extent == 0 {
            return self;
        }
        let (length, width) = match axis {
            Axis::Length => (extent, self.width),
            Axis::Width => (self.length, extent),
        };
        let whole = match axis {
            Axis::Length => (self.length + extent, self.width),
            Axis::Width => (self.length, self.width + extent),
        };
        let waste = Node::waste(length, width);
        let children = if is_high { vec![waste, self] } else { vec![self, waste] };
        Node { length: whole.0, width: whole.1, content: Content::Cut { axis, children } }
    }

    /// Restores the form: no cut in a cut of the same direction, no cut into one, waste of a cut in one rectangle.
    fn tidy(&mut self, keeps_rows: bool) {
        let Content::Cut { axis, children } = &mut self.content else { return };
        let axis = *axis;
        let mut tidied: Vec<Node> = Vec::with_capacity(children.len());
        let mut rest = 0;
        for mut child in std::mem::take(children) {
            child.tidy(keeps_rows);
            let parts = match child.content {
                Content::Cut { axis: inner, children: parts } if inner == axis => parts,
                _ => vec![child],
            };
            for part in parts {
                let is_waste = matches!(part.content, Content::Waste);
                if is_waste && axis == Axis::Width && keeps_rows {
                    match tidied.last_mut() {
                        Some(Node { content: Content::Waste, width, .. }) => *width += part.width,
                        _ => tidied.push(part),
                    }
                } else if is_waste {
                    rest += part.extent(axis);
                } else {
                    tidied.push(part);
                }
            }
        }
        if rest > 0 {
            tidied.push(match axis {
                Axis::Length => Node::waste(rest, self.width),
                Axis::Width => Node::waste(self.length, rest),
            });
        }
        if tidied.len() == 1 {
            self.content = tidied.swap_remove(0).content;
        } else {
            self.content = Content::Cut { axis, children: tidied };
        }
    }

    /// Returns the stages of cuts and the direction of the first that parts pieces.
    fn stages(&self) -> (u32, Option<Axis>) {
        let Content::Cut { axis, children } = &self.content else { return (0, None) };
        let filled = children.iter().filter(|child| !matches!(child.content, Content::Waste));
        let (mut deepest, mut filled_count) = ((0, None), 0);
        for child in filled {
            filled_count += 1;
            let stages = child.stages();
            if stages.0 > deepest.0 {
                deepest = stages;
            }
        }
        if filled_count > 1 { (deepest.0 + 1, Some(*axis)) } else { deepest }
    }
}
