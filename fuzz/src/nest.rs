//! Bytes as an instance of cutting: no panic, and a nest that passes [`check`](cutbill::nest::check), which holds its cost
//! against its bound.

use cutbill::model::Edges;
use cutbill::nest::check::check;
use cutbill::nest::{self, Ending, Instance, Kind, Options, Piece, Stock};
use cutbill::quantity::{Length, Ratio};
use cutbill::watch::Silent;

/// Nanometers of 1/64 in, 0.5 mm, 1 in, 1 ft and the grid of one nanometer.
const STEPS: [i64; 5] = [396_875, 500_000, 25_400_000, 304_800_000, 1];

/// Nests the instance that the bytes describe, twice.
pub fn run(bytes: &[u8]) {
    let mut source = Source(bytes);
    let Some(instance) = instance(&mut source) else { return };
    let options = Options { effort: 1, seed: source.byte().into() };
    let found = nest::nest(&instance, options, &Silent);
    if let Err(faults) = check(&instance, &found) {
        panic!("{}\n{instance:#?}\n{found:#?}", faults.join("\n"));
    }
    assert!(found.bound.cost <= found.cost, "the bound is above the cost\n{instance:#?}");
    if found.ending == Ending::Proven {
        assert_eq!(found.bound.cost, found.cost, "proven, but above the bound\n{instance:#?}");
    }
    let again = nest::nest(&instance, options, &Silent);
    assert_eq!(found, again, "two nests of one instance differ\n{instance:#?}");
}

/// Bytes one after the other; zeros after the last.
struct Source<'a>(&'a [u8]);

impl Source<'_> {
    fn byte(&mut self) -> u8 {
        let (first, rest) =
            self.0.split_first().map_or((0, self.0), |(first, rest)| (*first, rest));
        self.0 = rest;
        first
    }

    fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    fn two(&mut self) -> i64 {
        i64::from(u16::from_le_bytes([self.byte(), self.byte()]))
    }

    /// Returns a length above zero.
    fn length(&mut self, step: i64) -> Length {
        Length::from_nanometers((self.two() + 1) * step)
    }
}

/// Returns an instance as its fields demand: lengths above zero, no two pieces alike.
fn instance(source: &mut Source) -> Option<Instance> {
    let flags = source.byte();
    let kind = [Kind::Linear, Kind::Guillotine, Kind::Free, Kind::Roll][usize::from(flags & 3)];
    let is_flat = kind != Kind::Linear;
    let step = STEPS[usize::from(source.byte()) % STEPS.len()];
    let width = |source: &mut Source| if is_flat { source.length(step) } else { Length::ZERO };
    let stock_count = 1 + usize::from(source.byte() % 4);
    let mut stocks = Vec::new();
    for _ in 0..stock_count {
        let (length, width) = (source.length(step), width(source));
        let cost = Ratio::whole(source.two().into())
            .checked_div(&Ratio::whole(i128::from(source.byte()) + 1))?;
        let limit = source.byte();
        let available = (limit >= 128).then(|| u64::from(limit - 128));
        stocks.push(Stock { length, width, cost, available });
    }
    let kerf = Length::from_nanometers(i64::from(source.byte()) * step);
    let trim = Length::from_nanometers(i64::from(source.byte()) * step);
    let mut instance = Instance { kerf, trim, ..Instance::new(kind, stocks, Vec::new()) };
    if flags & 4 != 0 {
        instance.offcut_min = Some(source.length(step));
    }
    if flags & 8 != 0 && matches!(kind, Kind::Guillotine | Kind::Roll) {
        instance.max_stages = Some(1 + u32::from(source.byte() % 5));
    }
    if flags & 16 != 0 && matches!(kind, Kind::Linear | Kind::Roll) {
        instance.run = Length::from_nanometers(source.two() * step);
        instance.splice_min = source.length(step);
    }
    instance.charges_length = flags & 32 != 0 && kind == Kind::Roll;
    while !source.is_empty() && instance.pieces.len() < 24 {
        let (length, width) = (source.length(step), width(source));
        let (count, ways) = (u64::from(source.byte() % 64) + 1, source.byte());
        let edges = match ways & 6 {
            2 if matches!(kind, Kind::Guillotine | Kind::Free) => Edges::One,
            4 if matches!(kind, Kind::Guillotine | Kind::Free) => Edges::Both,
            _ => Edges::None,
        };
        let may_turn = is_flat && ways & 1 != 0 && edges == Edges::None;
        let piece = Piece { length, width, count, may_turn, edges };
        let is_known = |other: &Piece| Piece { count, ..other.clone() } == piece;
        if !instance.pieces.iter().any(is_known) {
            instance.pieces.push(piece);
        }
    }
    let has_work = !instance.pieces.is_empty() || instance.run > Length::ZERO;
    has_work.then_some(instance)
}
