use jiff::civil::Date;

use super::*;
use crate::model::AssemblyId;
use crate::model::ItemId;
use crate::model::SizeId;
use crate::model::StockKind;
use crate::model::Stocked;

const ITEMS: &str = "\
item,form,unit,price,price_unit,weight
PLY-18,sheet,,450,MSF,1
STUD,linear,,7,each,1
SCREW,count,,5,C,0.01
GLUE,bulk,gal,30,gal,9
HOUR,labor,,40,hour,
TRIM,linear,,1,ft,1
NUT,count,dozen,1,C,0.01
ROLL,roll,,1,ft2,1
";
const SIZES: &str = "\
item,length,width,vendor
PLY-18,8 ft,4 ft,A
PLY-18,10 ft,4 ft,A
PLY-18,8 ft,4 ft,B
STUD,8 ft,,
TRIM,,,
ROLL,100 ft,10 ft,
";
const BILL: &str = "parent,component,quantity\nP,FLOOR,1\nP,DOOR,1\nFLOOR,SCREW,20\nDOOR,SCREW,4\n";
const PLY: ItemId = ItemId(0);
const STUD: ItemId = ItemId(1);
const TRIM: ItemId = ItemId(5);
const ROLL: ItemId = ItemId(7);

fn tables(stock: &str) -> [(&str, &str); 6] {
    [
        ("items", ITEMS),
        ("sizes", SIZES),
        ("bill", BILL),
        ("assemblies", "assembly,stocked\nFLOOR,yes\n"),
        ("settings", "key,value\nas_of,2027-03-01\n"),
        ("stock", stock),
    ]
}

/// Reads one row of stock under `item,length,width,quantity,kind,due,order,vendor,price`.
#[track_caller]
fn counted(row: &str) -> Vec<(Stocked, Ratio)> {
    let stock = format!("item,length,width,quantity,kind,due,order,vendor,price\n{row}\n");
    let rows = valid(&tables(&stock)).stock;
    rows.into_iter().map(|row| (row.what, row.quantity)).collect()
}

#[track_caller]
fn check_stock(rows: &str, expected: &str) {
    let stock = format!("item,length,width,quantity,kind,due,order,vendor,price\n{rows}");
    check(&tables(&stock), expected);
}

#[test]
fn stock_counts_sizes_offcuts_items_and_assemblies() {
    let (foot, whole) = (Length::FOOT, Ratio::whole);
    let size = |item, size| Stocked::Size(item, SizeId(size));
    assert_eq!(counted("ply-18,8 ft,4 ft,12,,,,,"), [(size(PLY, 0), whole(12))]);
    assert_eq!(counted("PLY-18,8 ft,4 ft,12,,,,b,"), [(size(PLY, 2), whole(12))]);
    assert_eq!(counted("PLY-18,10 ft,,5,,,,,"), [(size(PLY, 1), whole(5))]);
    // A sheet of 4 by 8 feet has 32 square feet.
    assert_eq!(counted("PLY-18,8 ft,4 ft,96 ft2,,,,,"), [(size(PLY, 0), whole(3))]);
    assert_eq!(counted("STUD,,,40,,,,,"), [(size(STUD, 3), whole(40))]);
    assert_eq!(counted("STUD,,,80 ft,,,,,"), [(size(STUD, 3), whole(10))]);
    let offcut = Stocked::Offcut(PLY, foot * 6, foot * 4);
    assert_eq!(counted("PLY-18,6 ft,4 ft,3,,,,,"), [(offcut, whole(3))]);
    assert_eq!(
        counted("STUD,5 ft,,2,,,,,"),
        [(Stocked::Offcut(STUD, foot * 5, Length::ZERO), whole(2))]
    );
    let rest = Stocked::Offcut(ROLL, foot * 40, foot * 10);
    assert_eq!(counted("ROLL,40 ft,10 ft,1,on hand,,,,0"), [(rest, whole(1))]);
    let floor = Stocked::Assembly(AssemblyId(0), Some(foot * 20), None);
    assert_eq!(counted("FLOOR,20 ft,,2,,,,,"), [(floor, whole(2))]);
    assert_eq!(counted("SCREW,,,500,,,,,"), [(Stocked::Item(ItemId(2)), whole(500))]);
    assert_eq!(counted("NUT,,,5,,,,,"), [(Stocked::Item(ItemId(6)), whole(60))]);
    let pints = Ratio::new(231, 8).unwrap() * Length::INCH.to_ratio().power(3);
    assert_eq!(counted("GLUE,,,0.125 gal,,,,,"), [(Stocked::Item(ItemId(3)), pints.clone())]);
    assert_eq!(counted("GLUE,,,0.125,,,,,"), [(Stocked::Item(ItemId(3)), pints)]);
    assert_eq!(counted("SCREW,,,0,,,,,"), []);
}

#[test]
fn what_is_made_to_length_is_counted_by_length() {
    let (foot, whole) = (Length::FOOT, Ratio::whole);
    let feet = |count| whole(count) * foot.to_ratio();
    assert_eq!(counted("TRIM,,,30,,,,,"), [(Stocked::Item(TRIM), feet(30))]);
    assert_eq!(counted("TRIM,17 ft,,2,on order,2027-03-05,,,"), [(Stocked::Item(TRIM), feet(34))]);
    let piece = Stocked::Offcut(TRIM, foot * 17, Length::ZERO);
    assert_eq!(counted("TRIM,17 ft,,2,,,,,"), [(piece, whole(2))]);
}

#[test]
fn kinds_of_stock_are_read() {
    let rows = "\
item,quantity,kind,due,order,vendor,price
SCREW,5,On-Hand,,,,
SCREW,5,on order,2027-03-10,P-1,A,812
SCREW,5,allocated,,B-1,,
";
    let book = valid(&tables(rows));
    let kinds: Vec<StockKind> = book.stock.iter().map(|row| row.kind).collect();
    assert_eq!(kinds, [StockKind::OnHand, StockKind::OnOrder, StockKind::Allocated]);
    let row = &book.stock[1];
    let due = Some(Date::constant(2027, 3, 10));
    let shown = (row.due, row.order.as_str(), row.vendor.as_str(), row.price.clone());
    assert_eq!(shown, (due, "P-1", "A", Some(Ratio::whole(812))));
}

#[test]
fn stock_that_cannot_be_counted_is_told() {
    check_stock(
        "\
SCREWS,,,5,,,,,
P,,,5,,,,,
HOUR,,,5,,,,,
DOOR,,,5,,,,,
SCREW,1 ft,,5,,,,,
SCREW,,,-5,,,,,
SCREW,,,,,,,,
SCREW,,,5 gal,,,,,
SCREW,,,5,in hand,,,,
SCREW,,,5,on order,,,,
SCREW,,,5,on order,2027-02-20,,,
PLY-18,,,5,,,,,
PLY-18,8 ft,4 ft,2.5,,,,,
PLY-18,8 ft,4 ft,40 ft2,,,,,
PLY-18,4 ft,8 ft,1,on order,2027-03-20,,,
PLY-18,12 ft,4 ft,1,,,,,
PLY-18,6 ft,4 ft,1,allocated,,,,
PLY-18,0,4 ft,1,,,,,
STUD,12 ft,,1,,,,,
FLOOR,,,1 ft,,,,,
FLOOR,,,1.5,,,,,
",
        "\
warning: stock.csv:2: column `item`: no item or assembly named `SCREWS`
  hint: did you mean `SCREW`?
warning: stock.csv:3: column `item`: plan `P` cannot be a component
warning: stock.csv:4: row is not read: item `HOUR` is of form labor, which is not kept
warning: stock.csv:5: column `item`: assembly `DOOR` is not `stocked` in table `assemblies`
warning: stock.csv:6: column `length`: length is not used: form count is not kept in sizes
error: stock.csv:7: column `quantity`: `-5` is out of range (not below zero)
error: stock.csv:8: column `quantity`: empty, but needed
error: stock.csv:9: column `quantity`: `5 gal` is not a number
error: stock.csv:10: column `kind`: `in hand` is none of `on hand`, `on order` and `allocated`
  hint: did you mean `on hand`?
error: stock.csv:11: column `due`: empty, but needed
  hint: what is on order needs the day it is due
warning: stock.csv:12: column `due`: the order was due on 2027-02-20, before 2027-03-01, the day the book speaks of
error: stock.csv:13: column `length`: item `PLY-18` has 2 sizes and needs a length
error: stock.csv:14: column `quantity`: `2.5` is out of range (a whole number)
  hint: what is left of one stands in a row of its own, with its size
error: stock.csv:15: column `quantity`: `40 ft2` is out of range (a whole number)
  hint: what is left of one stands in a row of its own, with its size
error: stock.csv:16: column `length`: item `PLY-18` has no size `4 ft x 8 ft`
  hint: length and width may stand in each other's place
error: stock.csv:17: column `length`: item `PLY-18` has no size `12 ft x 4 ft`
error: stock.csv:18: column `length`: item `PLY-18` has no size `6 ft x 4 ft`
error: stock.csv:19: column `length`: `0` is out of range (above zero)
error: stock.csv:20: column `length`: item `STUD` has no size `12 ft`
error: stock.csv:21: column `quantity`: `1 ft` is not a number
error: stock.csv:22: column `quantity`: `1.5` is out of range (a whole number)
",
    );
}
