//! Makes up the items of a plant: two or three of each form, in every unit of price and weight.

use super::generate::Maker;
use super::generate_terms::{cube, measure};
use super::number::{Number, decimal, fraction, whole};
use super::plant::{DatedPrice, Form, Grain, Item, Per, Price, Size, Weight};
use super::reference::{FOOT, INCH};
use super::term::Kind;

pub(crate) fn items(maker: &mut Maker) -> Vec<Item> {
    let mut items = vec![maker.panel("panel a"), maker.panel("panel b"), maker.floor()];
    items.push(maker.membrane());
    items.push(maker.lumber("stud"));
    items.push(maker.lumber("rail"));
    items.push(maker.trim());
    items.push(maker.fastener("screw"));
    items.push(maker.fastener("batt"));
    items.extend(["gal", "ft", "ft2", "lb"].map(|unit| maker.bulk(unit)));
    items.push(maker.labor("framing"));
    items.push(maker.labor("finish"));
    for item in &mut items {
        maker.dress(item);
    }
    items
}

fn blank(name: &str, form: Form, unit: &str, factor: Number) -> Item {
    Item {
        name: name.to_owned(),
        form,
        unit: (unit.to_owned(), factor),
        price: None,
        weight: Weight::None,
        rides_percent: None,
        thickness: None,
        nominal: None,
        pack: None,
        grain: None,
        kerf: None,
        trim: None,
        offcut_min: None,
        net_width: None,
        overlap: None,
        stagger: None,
        coverage: None,
        yield_percent: None,
        shrinkage_percent: None,
        group: String::new(),
        vendor: String::new(),
        color: String::new(),
        sizes: Vec::new(),
        dated: Vec::new(),
    }
}

fn square_foot() -> Number {
    whole(FOOT) * whole(FOOT)
}

fn price(amount: Number, unit: &str, per: Per) -> Price {
    Price { amount, unit: unit.to_owned(), per }
}

impl Maker {
    fn panel(&mut self, name: &str) -> Item {
        let mut item = blank(name, Form::Sheet, "ft2", square_foot());
        let lengths: &[i64] = self.random.pick::<&[i64]>(&[&[96], &[96, 120], &[144, 96]]);
        item.sizes = lengths
            .iter()
            .map(|length| Size {
                length: Some(self.length(length * 64)),
                width: Some(self.length(48 * 64)),
                price: None,
                available: None,
            })
            .collect();
        item.grain = *self.random.pick(&[None, Some(Grain::Length), Some(Grain::Width)]);
        item.kerf = self.random.chance(50).then(|| self.length(8));
        item.trim = self.random.chance(20).then(|| self.length(16));
        item.offcut_min = self.random.chance(30).then(|| self.length(8 * 64));
        self.sheet_weight(&mut item);
        self.sheet_prices(&mut item);
        if item.sizes.len() == 1 && self.random.chance(20) {
            item.yield_percent = Some(self.random.range(60, 95));
        }
        item
    }

    /// Tongue-and-groove floor.
    fn floor(&mut self) -> Item {
        let mut item = blank("floor", Form::Sheet, "ft2", square_foot());
        item.sizes = vec![Size {
            length: Some(self.length(96 * 64)),
            width: Some(self.length(48 * 64)),
            price: None,
            available: None,
        }];
        item.net_width = Some(self.length(47 * 64 + 32));
        item.trim = self.random.chance(20).then(|| self.length(16));
        item.stagger = self.random.chance(50).then(|| self.length(48 * 64));
        self.sheet_weight(&mut item);
        self.sheet_prices(&mut item);
        item
    }

    fn sheet_weight(&mut self, item: &mut Item) {
        item.weight = match self.random.below(5) {
            0 if item.sizes.len() == 1 => {
                Weight::WholeSize(decimal(self.random.range(200, 900), 1))
            }
            1 => {
                let sixty_fourths = *self.random.pick(&[30, 38, 46]);
                item.thickness = Some(self.length(sixty_fourths));
                Weight::Density(decimal(self.random.range(300, 420), 1))
            }
            2 => Weight::None,
            3 => Weight::Per {
                pounds: decimal(self.random.range(50, 250), 2),
                measure: square_foot(),
                unit: "lb/ft2".to_owned(),
            },
            // A kilogram is 1/0.45359237 lb, a square meter 10^18 square nanometers.
            _ => Weight::Per {
                pounds: whole(self.random.range(2, 12)),
                measure: decimal(45_359_237, 8) * whole(1_000_000_000) * whole(1_000_000_000),
                unit: "kg/m2".to_owned(),
            },
        };
    }

    fn sheet_prices(&mut self, item: &mut Item) {
        let by_area = |digits: i64, places: u32, unit: &str, feet: i64| {
            let per = Per::Measure(square_foot() * whole(feet));
            price(decimal(digits, places), unit, per)
        };
        match self.random.below(7) {
            0 => item.price = Some(by_area(self.random.range(80, 300), 2, "ft2", 1)),
            1 => item.price = Some(by_area(self.random.range(80_000, 300_000), 2, "MSF", 1000)),
            2 => item.price = Some(by_area(self.random.range(90, 250), 0, "square", 100)),
            3 if !matches!(item.weight, Weight::None) => {
                let amount = decimal(self.random.range(90, 250), 2);
                item.price = Some(price(amount, "lb", Per::Pounds(whole(1))));
            }
            4 if self.random.chance(30) => {}
            _ => {
                for size in 0..item.sizes.len() {
                    let amount = decimal(self.random.range(2000, 9000), 2);
                    item.sizes[size].price = Some(price(amount, "each", Per::Things(whole(1))));
                }
            }
        }
    }

    fn membrane(&mut self) -> Item {
        let mut item = blank("membrane", Form::Roll, "ft2", square_foot());
        let width = *self.random.pick(&[60, 96, 120]);
        let is_in_two_widths = self.random.chance(30);
        let lengths: &[i64] = self.random.pick::<&[i64]>(&[&[600], &[1200], &[600, 1200]]);
        for (index, length) in lengths.iter().enumerate() {
            let wider = if is_in_two_widths && index == 1 { 24 } else { 0 };
            item.sizes.push(Size {
                length: Some(self.length(length * 64)),
                width: Some(self.length((width + wider) * 64)),
                price: None,
                available: None,
            });
        }
        let is_in_two_widths = is_in_two_widths && lengths.len() > 1;
        item.overlap = self.random.chance(40).then(|| self.length(2 * 64));
        item.net_width = self.random.chance(30).then(|| self.length((width - 2) * 64));
        self.sheet_weight(&mut item);
        if matches!(item.weight, Weight::WholeSize(_)) && item.sizes.len() > 1 {
            item.weight = Weight::None;
        }
        if self.random.chance(30) && !is_in_two_widths {
            let per = Per::Measure(whole(FOOT) * whole(width * INCH));
            let amount = decimal(self.random.range(300, 1500), 2);
            item.price = Some(price(amount, "ft", per));
        } else {
            self.sheet_prices(&mut item);
        }
        item
    }

    fn lumber(&mut self, name: &str) -> Item {
        let mut item = blank(name, Form::Linear, "ft", whole(FOOT));
        // Dressed sizes by PS 20, in 64ths of an inch.
        let (nominal, thickness, width, board_inches) = *self.random.pick(&[
            ("2x2", 96, 96, 4),
            ("2x3", 96, 160, 6),
            ("2x4", 96, 224, 8),
            ("1x4", 48, 224, 4),
            ("2x6", 96, 352, 12),
        ]);
        item.nominal = Some((nominal.to_owned(), thickness, width));
        let lengths: &[i64] = self.random.pick::<&[i64]>(&[&[8], &[16], &[8, 10], &[10, 12, 16]]);
        item.sizes = lengths
            .iter()
            .map(|length| Size {
                length: Some(self.length(length * 12 * 64)),
                width: None,
                price: None,
                available: None,
            })
            .collect();
        item.kerf = self.random.chance(60).then(|| self.length(8));
        item.trim = self.random.chance(15).then(|| self.length(16));
        item.offcut_min = self.random.chance(30).then(|| self.length(24 * 64));
        item.weight = match self.random.below(4) {
            0 => Weight::None,
            1 => Weight::Per {
                pounds: decimal(self.random.range(30, 200), 2),
                measure: whole(FOOT),
                unit: "lb/ft".to_owned(),
            },
            2 if item.sizes.len() == 1 => Weight::WholeSize(decimal(self.random.range(50, 200), 1)),
            _ => Weight::Density(decimal(self.random.range(250, 350), 1)),
        };
        // A board foot is nominal thickness times nominal width in square inches, times a twelfth of a foot.
        let board_foot = whole(FOOT) * fraction(12, board_inches);
        let per_board = Per::Measure(board_foot.clone());
        let per_thousand = Per::Measure(board_foot * whole(1000));
        match self.random.below(5) {
            0 => {
                let amount = decimal(self.random.range(40, 140), 2);
                item.price = Some(price(amount, "BF", per_board));
            }
            1 => {
                let amount = whole(self.random.range(400, 1400));
                item.price = Some(price(amount, "MBF", per_thousand));
            }
            2 => {
                let amount = decimal(self.random.range(30, 140), 2);
                item.price = Some(price(amount, "ft", Per::Measure(whole(FOOT))));
            }
            3 => {
                let amount = decimal(self.random.range(3000, 14_000), 2);
                item.price = Some(price(amount, "100 ft", Per::Measure(whole(FOOT * 100))));
            }
            _ => {
                for size in &mut item.sizes {
                    let amount = decimal(self.random.range(300, 1500), 2);
                    size.price = Some(price(amount, "each", Per::Things(whole(1))));
                }
            }
        }
        if self.random.chance(40) {
            item.net_width = Some(self.length(width - 16));
            item.overlap = self.random.chance(30).then(|| self.length(16));
            item.stagger = self.random.chance(50).then(|| self.length(24 * 64));
        }
        item
    }

    /// Formed to the length ordered.
    fn trim(&mut self) -> Item {
        let mut item = blank("trim", Form::Linear, "ft", whole(FOOT));
        let by_foot =
            price(decimal(self.random.range(90, 300), 2), "ft", Per::Measure(whole(FOOT)));
        item.sizes = vec![Size { length: None, width: None, price: None, available: None }];
        if self.random.chance(50) {
            item.sizes[0].price = Some(by_foot);
        } else {
            item.price = Some(by_foot);
        }
        item.weight = Weight::Per {
            pounds: decimal(self.random.range(5, 60), 2),
            measure: whole(FOOT),
            unit: "lb/ft".to_owned(),
        };
        item.net_width = self.random.chance(40).then(|| self.length(8 * 64));
        item
    }

    fn fastener(&mut self, name: &str) -> Item {
        let mut item = blank(name, Form::Count, "each", whole(1));
        let amount = decimal(self.random.range(100, 9000), 2);
        let (unit, things) =
            *self.random.pick(&[("each", 1), ("C", 100), ("M", 1000), ("dozen", 12), ("box", 250)]);
        item.price = Some(price(amount, unit, Per::Things(whole(things))));
        if unit == "box" {
            item.pack = Some("250/box".to_owned());
        }
        item.weight = match self.random.below(3) {
            0 => Weight::None,
            1 => Weight::Per {
                pounds: decimal(self.random.range(1, 300), 2),
                measure: whole(1),
                unit: "lb".to_owned(),
            },
            _ => Weight::Per {
                pounds: decimal(self.random.range(100, 2000), 2),
                measure: whole(100),
                unit: "lb/C".to_owned(),
            },
        };
        item.coverage = match name {
            "batt" => {
                Some(measure(self.random.range(40, 120), 1, "ft2", Kind::Area, square_foot()))
            }
            _ => {
                let spacing = self.random.range(4, 16);
                self.random.chance(60).then(|| measure(spacing, 0, "in", Kind::Length, whole(INCH)))
            }
        };
        item
    }

    fn bulk(&mut self, unit: &str) -> Item {
        let gallon = whole(231) * cube(INCH);
        let name = match unit {
            "gal" => "glue",
            "ft" => "wire",
            "ft2" => "foam",
            _ => "nail",
        };
        let factor = match unit {
            "gal" => gallon.clone(),
            "ft" => whole(FOOT),
            "ft2" => square_foot(),
            _ => whole(1),
        };
        let mut item = blank(name, Form::Bulk, unit, factor.clone());
        let amount = decimal(self.random.range(50, 5000), 2);
        let by_unit = price(amount.clone(), unit, Per::Measure(factor.clone()));
        item.price = Some(match (unit, self.random.below(3)) {
            ("ft", 0) => price(amount, "100 ft", Per::Measure(whole(100 * FOOT))),
            ("ft", 1) => {
                item.pack = Some("500 ft/reel".to_owned());
                price(amount, "reel", Per::Measure(whole(500 * FOOT)))
            }
            ("gal", 0) => price(
                amount,
                "L",
                Per::Measure(whole(100_000_000) * whole(100_000_000) * whole(100_000_000)),
            ),
            ("lb", 0) => price(amount, "cwt", Per::Measure(whole(100))),
            _ => by_unit,
        });
        item.weight = match (unit, self.random.below(3)) {
            ("lb", _) => Weight::Per { pounds: whole(1), measure: whole(1), unit: "lb".to_owned() },
            (_, 0) => Weight::None,
            ("gal", 1) => Weight::Density(decimal(self.random.range(500, 800), 1)),
            _ => Weight::Per {
                pounds: decimal(self.random.range(10, 900), 2),
                measure: factor,
                unit: "lb".to_owned(),
            },
        };
        if unit == "gal" {
            item.coverage =
                Some(measure(self.random.range(50, 300), 0, "ft2", Kind::Area, square_foot()));
            item.rides_percent = Some(self.random.range(30, 100));
        }
        item
    }

    fn labor(&mut self, name: &str) -> Item {
        let mut item = blank(name, Form::Labor, "hour", whole(60));
        let amount = decimal(self.random.range(1500, 6000), 2);
        item.price = Some(match self.random.below(3) {
            0 => price(decimal(self.random.range(20, 90), 2), "min", Per::Measure(whole(1))),
            _ => price(amount, "hour", Per::Measure(whole(60))),
        });
        item
    }

    /// Adds what any item may have.
    fn dress(&mut self, item: &mut Item) {
        item.group = (*self.random.pick(&["", "wood", "metal", "wood"])).to_owned();
        item.vendor = (*self.random.pick(&["", "mill one", "yard two"])).to_owned();
        item.color = (*self.random.pick(&["", "white"])).to_owned();
        if self.random.chance(15) && item.form != Form::Labor {
            item.shrinkage_percent = Some(self.random.range(1, 8));
        }
        if self.random.chance(10) && item.form != Form::Labor {
            item.rides_percent = Some(self.random.range(50, 99));
        }
        if matches!(item.form, Form::Count | Form::Bulk) && self.random.chance(5) {
            item.price = None;
        }
        if item.form.is_cut() && item.sizes[0].length.is_some() && self.random.chance(6) {
            item.sizes[0].available = Some(self.random.range(1, 4));
        }
        if self.random.chance(35) {
            self.date(item);
        }
    }

    /// Adds dated prices, of which at most one holds for a size on any day that is asked for.
    fn date(&mut self, item: &mut Item) {
        let Some(known) =
            item.price.clone().or_else(|| item.sizes.first().and_then(|size| size.price.clone()))
        else {
            return;
        };
        let is_per_size = item.price.is_none();
        if !self.has_day {
            let price = Price { amount: &known.amount + whole(1), ..known };
            let size = is_per_size.then_some(0);
            item.dated.push(DatedPrice { size, from: None, to: None, price });
            return;
        }
        let days = [(Some("2027-05-01"), Some("2027-06-01")), (Some("2027-06-02"), None)];
        for (index, (from, to)) in days.into_iter().enumerate() {
            if index == 1 && self.random.chance(50) {
                continue;
            }
            let amount = &known.amount + whole(1 + i64::try_from(index).unwrap());
            let price = Price { amount, ..known.clone() };
            item.dated.push(DatedPrice { size: is_per_size.then_some(0), from, to, price });
        }
    }
}
