//! What runs short, which builds wait, and what could be taken instead.

use cutbill::model::Book;
use cutbill::orders::{Move, Orders};
use cutbill::quantity::Ratio;

use crate::look::lines;
use crate::purchasing::{balance, book, plan, planned, wholes};

fn one_item(columns: &str, cells: &str, more: &[(&str, &str)]) -> Book {
    let items = format!("item,form,{columns}\nX,count,{cells}\nALT,count,{cells}\n");
    let mut tables = vec![
        ("items", items.as_str()),
        ("bill", "parent,component\nP,X\n"),
        (
            "schedule",
            "plan,week,units,order\nP,2027-W09,5,B-1\nP,2027-W10,20,B-2\nP,2027-W11,15,B-3\n\
             P,2027-W14,1,B-4\n",
        ),
    ];
    tables.extend(more);
    book(&tables)
}

/// Returns shortages as texts.
fn shortages(book: &Book, orders: &Orders<'_>) -> Vec<String> {
    let text = |short: &cutbill::orders::Shortage| {
        let arrival = short.arrival.map_or(String::new(), |day| format!(", there on {day}"));
        let rows: Vec<String> = short
            .pull_in
            .iter()
            .map(|row| format!(", on order for {}", book.stock[*row].due.unwrap()))
            .collect();
        let builds: Vec<&str> =
            short.builds.iter().map(|row| book.schedule[*row].order.as_str()).collect();
        let alternates: Vec<String> = short
            .alternates
            .iter()
            .map(|other| format!("; {} of {}", other.free, book.item(other.item).name))
            .collect();
        format!(
            "{} {} from {}{arrival}{}: {}{}",
            short.units,
            book.item(short.item).name,
            short.day,
            rows.concat(),
            builds.join(" "),
            alternates.concat()
        )
    };
    orders.shortages.iter().map(text).collect()
}

const ALTERNATE: (&str, &str) =
    ("swaps", "swap,from,to,from_date,approved\nother,X,ALT,,yes\nlater,X,ALT,,no\n");

#[test]
fn short_40_and_the_alternate_has_65() {
    let stock = ("stock", "item,quantity,kind\nALT,70,\nALT,5,allocated\n");
    let book = one_item("lead_days,price", "3 weeks,1", &[ALTERNATE, stock]);
    let orders = plan(&book);
    assert_eq!(
        shortages(&book, &orders),
        ["40 X from 2027-03-01, there on 2027-03-22: B-1 B-2 B-3; 65 of ALT"]
    );
}

#[test]
fn what_an_alternate_is_needed_for_itself_is_not_free() {
    let stock = ("stock", "item,quantity\nALT,70\n");
    let bill = ("bill", "parent,component\nP,X\nP,ALT\n");
    let book = one_item("lead_days,price", "3 weeks,1", &[ALTERNATE, stock, bill]);
    let orders = plan(&book);
    let free = &orders.shortages[0].alternates[0].free;
    assert_eq!(*free, Ratio::from(70 - 41));
}

#[test]
fn a_swap_not_approved_is_no_alternate() {
    let swaps = ("swaps", "swap,from,to,approved\nother,X,ALT,no\n");
    let book = one_item("lead_days,price", "3 weeks,1", &[swaps]);
    assert_eq!(plan(&book).shortages[0].alternates, []);
}

#[test]
fn open_orders_that_come_too_late_are_short_by_what_is_missing() {
    let stock = (
        "stock",
        "item,quantity,kind,due\nX,8,on hand,\nX,30,on order,2027-03-22\nX,30,on order,2027-03-29\n",
    );
    let book = one_item("price", "1", &[stock]);
    let orders = plan(&book);
    // 5 of 8 in the first week; 17 are missing in the second, 15 more in the third: 32 before the first order comes.
    let open: Vec<Move> =
        planned(&book, &orders, "X").open.iter().map(|open| open.change).collect();
    assert_eq!(open, [Move::In(1), Move::In(2)]);
    assert_eq!(
        shortages(&book, &orders),
        ["32 X from 2027-03-08, on order for 2027-03-22, on order for 2027-03-29: B-2 B-3"]
    );
    assert_eq!(lines(&book, &orders), Vec::<String>::new());
}

#[test]
fn an_overdue_order_is_taken_to_come_at_once() {
    let stock = ("stock", "item,quantity,kind,due\nX,50,on order,2027-02-01\n");
    let book = one_item("price", "1", &[stock]);
    let orders = plan(&book);
    assert_eq!(balance(&book, &orders, "X").due, wholes(&[50, 0, 0, 0, 0, 0]));
    assert_eq!(shortages(&book, &orders), Vec::<String>::new());
}

#[test]
fn furnished_material_that_was_not_sent_stops_builds() {
    let stock = ("stock", "item,quantity,kind,due\nX,10,,\nX,12,on order,2027-03-15\n");
    let book = one_item("supply,price", "furnished,0", &[stock]);
    let orders = plan(&book);
    // 5, then 20, 15 and 1: 15 are missing in the second week, 18 in the third, 19 at last.
    assert_eq!(balance(&book, &orders, "X").balance, wholes(&[5, -15, -18, -18, -18, -19]));
    let expected = "19 X from 2027-03-08: B-2 B-3 B-4";
    assert_eq!(shortages(&book, &orders), [expected]);
    assert_eq!(orders.orders, []);
}

#[test]
fn what_lies_in_bins_is_not_ordered() {
    for supply in ["bin", "consigned"] {
        let book = one_item("supply,price", &format!("{supply},1"), &[]);
        let orders = plan(&book);
        assert_eq!((orders.orders.len(), orders.shortages.len()), (0, 0), "{supply}");
    }
}

#[test]
fn promises_count_unless_the_schedule_asks_for_the_same() {
    let check = |order: &str, on_hand: i64| {
        let stock = format!("item,quantity,kind,order\nX,10,,\nX,6,allocated,{order}\n");
        let book = one_item("price", "1", &[("stock", &stock)]);
        let orders = plan(&book);
        assert_eq!(balance(&book, &orders, "X").on_hand, Ratio::from(on_hand), "{order}");
    };
    check("B-2", 10);
    check("b-2", 10);
    check("S-77", 4);
    check("", 4);
}

#[test]
fn a_promise_to_a_build_that_is_over_or_beyond_the_weeks_still_counts() {
    let stock = ("stock", "item,quantity,kind,order\nX,10,,\nX,6,allocated,B-1\n");
    let settings = ("settings", "key,value\nas_of,2027-03-08\n");
    let book = one_item("price", "1", &[stock, settings]);
    assert_eq!(balance(&book, &plan(&book), "X").on_hand, Ratio::from(4));
    let stock = ("stock", "item,quantity,kind,order\nX,10,,\nX,6,allocated,B-4\n");
    let settings = ("settings", "key,value\nas_of,2027-03-01\nhorizon_weeks,3\n");
    let book = one_item("price", "1", &[stock, settings]);
    assert_eq!(balance(&book, &plan(&book), "X").on_hand, Ratio::from(4));
}

#[test]
fn a_shortage_of_parts_of_an_assembly_built_ahead_names_the_builds() {
    let book = book(&[
        ("items", "item,form,lead_days,price\nX,count,3 weeks,1\n"),
        ("assemblies", "assembly,stocked,lead_days\nA,yes,5\n"),
        ("bill", "parent,component\nP,A\nA,X\n"),
        (
            "schedule",
            "plan,week,units,order\nP,2027-W10,5,B-1\nP,2027-W11,4,B-2\nP,2027-W20,6,B-3\n",
        ),
    ]);
    let orders = plan(&book);
    let expected = "9 X from 2027-03-01, there on 2027-03-22: B-1 B-2";
    assert_eq!(shortages(&book, &orders), [expected]);
}

#[test]
fn what_comes_after_the_last_week_is_not_there_in_it() {
    let book = book(&[
        ("items", "item,form,lead_days,price\nX,count,8 weeks,1\n"),
        ("bill", "parent,component\nP,X\n"),
        ("schedule", "plan,week,units,order\nP,2027-W09,1,B-1\nP,2027-W10,5,B-2\n"),
    ]);
    let expected = "6 X from 2027-03-01, there on 2027-04-26: B-1 B-2";
    assert_eq!(shortages(&book, &plan(&book)), [expected]);
}
