use jiff::civil::Date;

use super::*;
use crate::formula::Expression;
use crate::model::ActualRow;
use crate::model::AssemblyId;
use crate::model::Component;
use crate::model::ItemId;
use crate::model::Match;
use crate::model::OptionId;
use crate::model::Parent;
use crate::model::PlanId;
use crate::model::PriceChange;
use crate::quantity::Measure;
use crate::read::Cell;
use crate::read::Limits;
use crate::read::Percent;
use crate::read::book::tests::measures::table;

const OPTIONS: &str = "option\nsolar\n";
const SWAPS: &str = "swap,from,to,ratio,parent,quantity,plan,assembly,option,set,from_date,from_unit,approved,use_up\n";

#[track_caller]
fn check_swaps(rows: &str, expected: &str) {
    let swaps = format!("{SWAPS}{rows}");
    check(&[("options", OPTIONS), ("swaps", &swaps)], expected);
}

#[test]
fn swaps_are_read() {
    let swaps = format!(
        "{SWAPS}light,screw,GLUE,1/2,FLOOR,length / 1 ft,P,FLOOR,Solar,,2027-05-03,,yes,x\n\
         wide,,,,,,,,,spacing = 24 in,,#486,,\n\
         out,FLOOR,,,P,,,,,,,487,no,no\n"
    );
    let book = valid(&[("options", OPTIONS), ("swaps", &swaps)]);
    let [light, wide, out] = book.swaps.as_slice() else { panic!("{} swaps", book.swaps.len()) };
    assert_eq!(light.from, Some(Component::Item(ItemId(2))));
    assert_eq!(light.to, Some(Component::Item(ItemId(3))));
    assert_eq!(Some(light.ratio.clone()), Ratio::new(1, 2));
    assert_eq!(light.parent, Some(Parent::Assembly(AssemblyId(0))));
    assert_eq!(light.quantity.as_ref().map(Expression::text), Some("length / 1 ft"));
    let only = (light.plan, light.assembly, light.option);
    assert_eq!(only, (Some(PlanId(0)), Some(AssemblyId(0)), Some(OptionId(0))));
    assert_eq!(light.from_date, Some(Date::constant(2027, 5, 3)));
    assert_eq!((light.is_approved, light.uses_up), (true, true));
    assert_eq!((wide.from, wide.to, wide.from_unit), (None, None, Some(486)));
    let (name, spacing) = &wide.set[0];
    let spacing = spacing.as_constant().and_then(Measure::to_length);
    assert_eq!((name.as_str(), spacing), ("spacing", Some(Length::INCH * 24)));
    assert_eq!((&wide.ratio, wide.is_approved), (&Ratio::ONE, false));
    assert_eq!(out.from, Some(Component::Assembly(AssemblyId(0))));
    assert_eq!((out.parent, out.from_unit), (Some(Parent::Plan(PlanId(0))), Some(487)));
}

#[test]
fn swaps_of_what_is_not_there_are_errors() {
    check_swaps(
        "\
a,SCREWS,solar,0,FLOR,lenth,Q,WALL,sun,x,soon,#x,maybe,
,,,,,,,,,,,1.5,,
b,P,GLUE,-1,,2 *,,,,openings = 2,,,,
",
        "\
error: swaps.csv:2: column `from`: no item or assembly named `SCREWS`
  hint: did you mean `SCREW`?
error: swaps.csv:2: column `to`: no item or assembly named `solar`
  hint: it is an option: its lines join those of the plan when it is taken
error: swaps.csv:2: column `ratio`: `0` is out of range (above zero)
error: swaps.csv:2: column `parent`: no plan, assembly or option named `FLOR`
  hint: did you mean `FLOOR`?
error: swaps.csv:2: column `quantity`: no option, plan dimension or passed value named `lenth`
    lenth
    ^
  hint: did you mean `length`?
error: swaps.csv:2: column `plan`: no plan named `Q`
  hint: did you mean `P`?
error: swaps.csv:2: column `assembly`: no assembly named `WALL`
error: swaps.csv:2: column `option`: no option named `sun`
error: swaps.csv:2: column `set`: `x` is not a named value
  hint: write `name = value`, parted by `;`
error: swaps.csv:2: column `from_date`: `soon` is not a date
  hint: write year, month and day: `2027-03-15`
error: swaps.csv:2: column `from_unit`: `#x` is not a number of a unit, such as `#412`
error: swaps.csv:2: column `approved`: `maybe` is none of `yes` and `no`
error: swaps.csv:3: column `swap`: empty, but needed
error: swaps.csv:3: column `from`: `from`, `to` and `set` are empty, but one of them is needed
error: swaps.csv:3: column `from_unit`: `1.5` is out of range (a whole number, not below zero)
error: swaps.csv:4: column `from`: plan `P` cannot be a component
error: swaps.csv:4: column `ratio`: `-1` is out of range (above zero)
error: swaps.csv:4: column `quantity`: the formula ends too early
    2 *
       ^
error: swaps.csv:4: column `set`: `openings` has a meaning of its own in formulas, so nothing else is named so
  hint: openings come from lines of use `opening`
",
    );
}

#[test]
fn cases_say_which_items_and_how_their_prices_change() {
    let items = "item,form,price,weight,group,vendor\nSCREW,count,5,1,fasteners,Teal\n";
    let tables = |cases| [("items", items), ("sizes", ""), ("cases", cases)];
    let book = valid(&tables(
        "case,match,change\nup,group = Fasteners,12 %\nup,SCR*,+0.50\ndown,vendor=teal,-6%\nset,screw,to 4.20\n",
    ));
    let shown = book.cases.iter().map(|row| (row.case.as_str(), row.change.clone()));
    assert_eq!(
        shown.collect::<Vec<_>>(),
        [
            ("up", PriceChange::Share(Ratio::decimal(12, 2))),
            ("up", PriceChange::Amount(Ratio::decimal(5, 1))),
            ("down", PriceChange::Share(Ratio::decimal(-6, 2))),
            ("set", PriceChange::To(Ratio::decimal(42, 1))),
        ]
    );
    assert_eq!(book.cases[0].items, Match::Group("Fasteners".to_owned()));
    assert_eq!(book.cases[1].row.map(|row| row.row), Some(3));
    check(
        &tables(
            "case,match,change\na,group = fastener,5 %\nb,color = red,5 %\nc,SCR*,4.20\nd,SCREWS,= €4\n\
             ,vendor = Teel,-110 %\ne,BOLT*,\nf,,1 %\n",
        ),
        "\
warning: cases.csv:2: column `match`: no item group named `fastener`
  hint: did you mean `fasteners`?
error: cases.csv:3: column `match`: `color = red` is not a match
  hint: write the name of an item, `group = ..` or `vendor = ..`; `*` stands for any text
error: cases.csv:4: column `change`: `4.20` is not a change of a price
  hint: write a share as `+12 %`, an amount as `+0.50` or `-0.50`, a price as `to 4.20`
warning: cases.csv:5: column `match`: no item named `SCREWS`
  hint: did you mean `SCREW`?
error: cases.csv:5: column `change`: `= €4`: unit `€` does not fit, USD is expected
error: cases.csv:6: column `case`: empty, but needed
warning: cases.csv:6: column `match`: no vendor of an item named `Teel`
  hint: did you mean `Teal`?
error: cases.csv:6: column `change`: `-110 %` is not a change of a price
  hint: write a share as `+12 %`, an amount as `+0.50` or `-0.50`, a price as `to 4.20`
warning: cases.csv:7: column `match`: no item named `BOLT*`
error: cases.csv:7: column `change`: empty, but needed
error: cases.csv:8: column `match`: empty, but needed
",
    );
}

#[test]
fn a_percent_cell_is_a_share_and_a_number_below_zero_an_amount() {
    let change = |cell| {
        let texts = [Cell::Text("up"), Cell::Text("group = wood"), cell];
        let tables = [table("cases", &["case", "match", "change"], &texts)];
        let book = crate::read::book::book(&tables, &Limits::default());
        (book.value.cases.first().map(|row| row.change.clone()), book.value.digest)
    };
    let number = |text, percent| Cell::Number { text, percent };
    let share = PriceChange::Share(Ratio::decimal(12, 2));
    let (of_percent, digest) = change(number("0.12", Percent::Yes));
    assert_eq!(of_percent, Some(share));
    assert_eq!(change(Cell::Text("12 %")).1, digest);
    let amount = PriceChange::Amount(Ratio::decimal(-5, 1));
    assert_eq!(change(number("-0.5", Percent::No)).0, Some(amount));
    assert_eq!(change(number("0.5", Percent::No)).0, None);
    assert_eq!(change(number("0.12", Percent::Unknown)).0, None);
}

#[test]
fn actuals_are_in_the_items_unit() {
    let sizes = "item,length,width\nPLY-18,8 ft,4 ft\nPLY-18,10 ft,4 ft\nSTUD,8 ft,\n";
    let bill = "parent,component,quantity,length,width\nP,PLY-18,1,1 ft,1 ft\nP,STUD,1,1 ft,\nP,SCREW,1,,\n";
    let actuals = "\
item,plan,date,quantity,amount,units
PLY-18,,2027-02-26,64 ft2,$57.60,
STUD,p,,10,,2
HOUR,,,90 min,,
";
    let book = valid(&[("sizes", sizes), ("bill", bill), ("actuals", actuals)]);
    let first = ActualRow {
        item: ItemId(0),
        plan: None,
        date: Some(Date::constant(2027, 2, 26)),
        quantity: Ratio::whole(64) * Length::FOOT.to_ratio().power(2),
        amount: Some(Ratio::decimal(5760, 2)),
        units: None,
        row: book.actuals[0].row,
    };
    assert_eq!(book.actuals[0], first);
    // Ten sticks of eight feet.
    assert_eq!(book.actuals[1].quantity, Ratio::whole(80) * Length::FOOT.to_ratio());
    assert_eq!((book.actuals[1].plan, book.actuals[1].units), (Some(PlanId(0)), Some(2)));
    assert_eq!(book.actuals[2].quantity, Ratio::whole(90));
    check(
        &[
            ("sizes", sizes),
            ("bill", bill),
            (
                "actuals",
                "item,plan,date,quantity,amount,units\nBOLT,,,5,,\nSCREW,Q,,5,,\nSCREW,,,,€4,1.5\nPLY-18,,,5,,\n\
                 SCREW,,x,-5,,\nSTUD,,,2 lb,-1,\n",
            ),
        ],
        "\
warning: actuals.csv:2: column `item`: no item named `BOLT`
warning: actuals.csv:3: column `plan`: no plan named `Q`
  hint: did you mean `P`?
error: actuals.csv:4: column `quantity`: empty, but needed
error: actuals.csv:4: column `amount`: `€4`: unit `€` does not fit, USD is expected
  hint: amounts here are in the currency of the book
error: actuals.csv:4: column `units`: `1.5` is out of range (a whole number, not below zero)
error: actuals.csv:5: column `quantity`: `5` is not an area
  hint: a number counts whole sizes, but the item has several; write its area, as in `5 ft2`
error: actuals.csv:6: column `date`: `x` is not a date
  hint: write year, month and day: `2027-03-15`
error: actuals.csv:6: column `quantity`: `-5` is out of range (not below zero)
error: actuals.csv:7: column `quantity`: `2 lb` is not a length
error: actuals.csv:7: column `amount`: `-1` is out of range (not below zero)
",
    );
}
