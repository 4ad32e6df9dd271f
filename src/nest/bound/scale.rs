//! Dual feasible functions, and the extents pieces can reach.
//!
//! A scale maps sizes on one axis so that pieces that fit side by side in the largest extent are together worth no more
//! than that extent is. All but [`Scale::Count`] grow at least as fast as sums, so the same holds for lesser extents with
//! their own worth.

/// A dual feasible function with its parameter; `extent` is the largest one on the axis.
#[derive(Clone, Debug)]
pub(super) enum Scale {
    /// The size itself.
    Whole,
    /// Sizes above `extent - k` count as the extent, those below `k` as nothing (Fekete and Schepers' `U`).
    Ends(i64),
    /// Sizes in steps of `k`, from both ends (Carlier, Clautiaux and Moukrim's `f2`).
    Steps(i64),
    /// Sizes in `k + 1` parts of the extent, whole parts only (Fekete and Schepers' `u`).
    Parts(i64),
    /// Sizes from `k` to half the extent count one, larger ones as many as they displace (the same authors' `f1`). Holds
    /// how many such pieces fit into lengths up to each sum.
    Count { from: i64, sums: Vec<i64> },
}

impl Scale {
    /// Returns what a size counts.
    pub(super) fn value(&self, size: i64, extent: i64) -> i128 {
        let value = match self {
            Scale::Ends(k) if size > extent - k => extent,
            Scale::Ends(k) if size < *k => 0,
            Scale::Whole | Scale::Ends(_) => size,
            Scale::Steps(k) if 2 * size > extent => 2 * (extent / k - (extent - size).max(0) / k),
            Scale::Steps(k) if 2 * size == extent => extent / k,
            Scale::Steps(k) => 2 * (size / k),
            Scale::Parts(k) => {
                let parts = i128::from(*k + 1) * i128::from(size);
                let extent = i128::from(extent);
                return if parts % extent == 0 {
                    i128::from(*k) * i128::from(size)
                } else {
                    parts / extent * extent
                };
            }
            Scale::Count { from, .. } if size < *from => 0,
            Scale::Count { .. } if 2 * size <= extent => 1,
            Scale::Count { sums, .. } => fitting(sums, extent) - fitting(sums, extent - size),
        };
        i128::from(value)
    }

    /// Returns the most that pieces within `part` of the extent count together.
    pub(super) fn most(&self, part: i64, extent: i64) -> i128 {
        match self {
            Scale::Count { .. } => self.value(extent, extent),
            _ => self.value(part, extent),
        }
    }
}

/// How many of the smallest pieces fit into a length; `sums` are the running sums of their sizes.
fn fitting(sums: &[i64], length: i64) -> i64 {
    i64::try_from(sums.partition_point(|sum| *sum <= length)).expect("a count of pieces")
}

/// Most parameters of one kind.
const PARAMETERS: usize = 40;

/// Returns the scales worth trying for pieces of these sizes and counts.
pub(super) fn scales(extent: i64, sizes: &[(i64, u64)]) -> Vec<Scale> {
    let mut limits: Vec<i64> = sizes
        .iter()
        .flat_map(|(size, _)| [*size, extent - size, extent - size + 1, size + 1])
        .filter(|limit| 0 < *limit && 2 * limit <= extent)
        .collect();
    limits.sort_unstable();
    limits.dedup();
    let mut scales = vec![Scale::Whole];
    scales.extend(sample(&limits, PARAMETERS).map(Scale::Ends));
    let mut steps = limits.clone();
    steps.extend((2..10).map(|parts| extent / parts + 1).filter(|step| 2 * step <= extent));
    steps.sort_unstable();
    steps.dedup();
    scales.extend(sample(&steps, PARAMETERS).map(Scale::Steps));
    scales.extend((1..=8).filter(|_| extent > 0).map(Scale::Parts));
    for from in sample(&limits, PARAMETERS / 2) {
        let sums = running_sums(extent, from, sizes);
        if !sums.is_empty() {
            scales.push(Scale::Count { from, sums });
        }
    }
    scales
}

/// Returns at most `most` of the values, evenly over their order.
fn sample(values: &[i64], most: usize) -> impl Iterator<Item = i64> {
    let count = values.len().min(most);
    (0..count).map(move |index| values[index * values.len() / count])
}

fn running_sums(extent: i64, from: i64, sizes: &[(i64, u64)]) -> Vec<i64> {
    let mut counted: Vec<(i64, u64)> =
        sizes.iter().copied().filter(|(size, _)| from <= *size && 2 * size <= extent).collect();
    counted.sort_unstable();
    let mut sums = Vec::new();
    let mut sum = 0;
    for (size, count) in counted {
        for _ in 0..count {
            sum += size;
            if sum > extent {
                return sums;
            }
            sums.push(sum);
        }
    }
    sums
}

/// Largest extent for which reachable sums are counted out.
const LONGEST: i64 = 1 << 18;

/// Returns, for each extent, the largest sum of sizes within it. Each piece has one of its sizes, `count` times.
pub(super) fn reachable(extents: &[i64], pieces: &[(Vec<i64>, u64)]) -> Vec<i64> {
    let longest = extents.iter().copied().max().unwrap_or(0);
    if longest > LONGEST {
        return extents.to_vec();
    }
    let length = usize::try_from(longest).expect("an extent is not negative");
    let mut is_reached = vec![false; length + 1];
    is_reached[0] = true;
    for (sizes, count) in pieces {
        // Each size up to `count` times: the count of a size used last is kept per sum. Two sizes of one piece may
        // together exceed the count; that only adds sums, which weakens the bound but keeps it true.
        for size in sizes {
            let Ok(size) = usize::try_from(*size) else { continue };
            if size == 0 {
                continue;
            }
            let mut used = vec![0_u64; length + 1];
            for sum in size..=length {
                if !is_reached[sum] && is_reached[sum - size] && used[sum - size] < *count {
                    is_reached[sum] = true;
                    used[sum] = used[sum - size] + 1;
                }
            }
        }
    }
    let reach = |extent: &i64| {
        let extent = usize::try_from(*extent).expect("an extent is not negative");
        let largest = (0..=extent).rev().find(|sum| is_reached[*sum]).unwrap_or(0);
        i64::try_from(largest).expect("not above the extent")
    };
    extents.iter().map(reach).collect()
}
