//! When things are needed: levels, days before, assemblies built ahead, whole things across weeks, safety.

use cutbill::model::Book;
use cutbill::orders::{Move, PegSource};
use cutbill::quantity::Ratio;

use crate::look::findings;
use crate::purchasing::{ahead, balance, book, item, plan, planned, wholes};
use crate::random::Random;

#[test]
fn days_before_add_up_down_the_levels() {
    let book = book(&[
        ("items", "item,form\nX,count\nY,count\nZ,count\n"),
        ("assemblies", "assembly,lead_days,offset_days\nA,5,5\nB,5,10\n"),
        // B's own line says 0 days before, in place of its 10.
        ("bill", "parent,component,offset_days\nP,A,\nA,B,0\nA,Y,\nB,X,5\nP,Z,5\nP,B,\n"),
        ("schedule", "plan,week,units\nP,2027-W15,1\n"),
    ]);
    let orders = plan(&book);
    let week_of = |name: &str| -> Vec<usize> {
        let gross = balance(&book, &orders, name).gross.iter().enumerate();
        gross.filter(|(_, count)| !count.is_zero()).map(|(week, _)| week).collect()
    };
    // Week 6 is that of the build. Z a week before it; Y 1 + 1 weeks; X through A 1 + 1 + 0 + 1 + 1, by itself 2 + 1 + 1.
    assert_eq!(week_of("Z"), [5]);
    assert_eq!(week_of("Y"), [4]);
    assert_eq!(week_of("X"), [2]);
    assert_eq!(balance(&book, &orders, "X").gross[2], Ratio::from(2));
}

#[test]
fn what_would_be_needed_before_today_is_needed_in_the_first_week() {
    let book = book(&[
        ("items", "item,form\nX,count\n"),
        ("bill", "parent,component,offset_days\nP,X,40\n"),
        ("schedule", "plan,week,units\nP,2027-W10,3\n"),
    ]);
    assert_eq!(balance(&book, &plan(&book), "X").gross, wholes(&[3, 0]));
}

#[test]
fn a_build_by_date_is_due_on_its_day() {
    let book = book(&[
        ("items", "item,form\nX,count\n"),
        ("bill", "parent,component,offset_days\nP,X,3\n"),
        // Thursday less three days is Monday, Wednesday less three days is Friday of the week before.
        ("schedule", "plan,date,units\nP,2027-03-17,1\nP,2027-03-18,10\n"),
    ]);
    assert_eq!(balance(&book, &plan(&book), "X").gross, wholes(&[0, 1, 10]));
}

#[test]
fn a_whole_week_off_takes_its_builds_to_the_week_before() {
    let days: Vec<String> = (8..13).map(|day| format!("2027-03-{day:02},no\n")).collect();
    let book = book(&[
        ("items", "item,form,price\nX,count,1\n"),
        ("bill", "parent,component\nP,X\n"),
        ("calendar", &format!("date,working\n{}", days.concat())),
        ("schedule", "plan,week,units\nP,2027-W10,3\nP,2027-W11,2\n"),
    ]);
    assert_eq!(balance(&book, &plan(&book), "X").gross, wholes(&[3, 0, 2]));
}

#[test]
fn things_are_rounded_up_across_the_weeks() {
    let book = book(&[
        ("items", "item,form\nX,count\n"),
        ("bill", "parent,component,quantity\nP,X,0.3\n"),
        ("schedule", "plan,week,units\nP,2027-W09,2\nP,2027-W10,2\nP,2027-W11,2\nP,2027-W12,4\n"),
    ]);
    // 0.6, 1.2, 1.8 and 3.0 in all.
    assert_eq!(balance(&book, &plan(&book), "X").gross, wholes(&[1, 1, 0, 1]));
}

#[test]
fn assemblies_in_stock_are_used_before_any_is_built() {
    let book = book(&[
        ("items", "item,form\nX,count\n"),
        ("assemblies", "assembly,stocked,safety_stock\nA,yes,2\n"),
        ("bill", "parent,component,quantity\nP,A,2\nA,X,3\n"),
        ("schedule", "plan,week,units\nP,2027-W09,2\nP,2027-W10,2\nP,2027-W11,1\n"),
        (
            "stock",
            "item,quantity,kind,due,order\nA,7,,,\nA,1,allocated,,S-1\nA,1,on order,2027-03-15,\n",
        ),
    ]);
    let orders = plan(&book);
    let a = ahead(&book, &orders, "A");
    // 6 are free; 4, 4 and 2 are needed, 2 are kept. The one that comes in the third week is called in for the second.
    assert_eq!(a.on_hand, Ratio::from(6));
    assert_eq!(a.gross, wholes(&[4, 4, 2]));
    assert_eq!(a.planned, wholes(&[0, 3, 2]));
    assert_eq!(a.open[0].change, Move::In(1));
    assert_eq!(a.balance, wholes(&[2, 2, 2]));
    assert_eq!(balance(&book, &orders, "X").gross, wholes(&[0, 9, 6]));
}

#[test]
fn stock_of_an_assembly_is_of_its_own_length() {
    let tables = |stock: &'static str| {
        book(&[
            ("items", "item,form\nX,count\n"),
            ("assemblies", "assembly,stocked\nA,yes\n"),
            (
                "bill",
                "parent,component,quantity,length\nP,A,2,8 ft\nP,A,1,10 ft\nA,X,length / 1 ft,\n",
            ),
            ("schedule", "plan,week,units\nP,2027-W09,1\n"),
            ("stock", stock),
        ])
    };
    let book = tables("item,length,quantity\nA,96,1\nA,120,1\n");
    assert_eq!(balance(&book, &plan(&book), "X").gross, wholes(&[8]));
    assert_eq!(findings(&book), ["gap: items.csv:2: column `price`: item `X` has no price"]);
    let book = tables("item,length,quantity\nA,,1\n");
    assert_eq!(balance(&book, &plan(&book), "X").gross, wholes(&[26]));
    let expected = "warning: stock.csv:2: column `item`: `A` is built in 2 forms and the row does not \
                    say which one is there, so it is not counted\n  hint: give the `length`, and the \
                    `width` if it matters, of the one that is there";
    assert_eq!(findings(&book)[0], expected);
}

/// A book of one item with some stock and terms.
fn one_item(cells: &str, stock: &str, units: &[u32]) -> Book {
    let rows = (9..).zip(units).map(|(week, units)| format!("P,2027-W{week:02},{units}\n"));
    let rows = rows.collect::<Vec<_>>().concat();
    book(&[
        (
            "items",
            &format!(
                "item,form,price,safety_stock,lot_rule,lot_size,order_multiple\nX,count,1,{cells}\n"
            ),
        ),
        ("bill", "parent,component\nP,X\n"),
        ("schedule", &format!("plan,week,units\n{rows}")),
        ("stock", &format!("item,quantity,kind,due\n{stock}")),
    ])
}

#[test]
fn safety_is_kept_in_units_or_for_days() {
    let book = one_item("6,,,", "X,10,,\n", &[2, 4, 4, 4]);
    assert_eq!(balance(&book, &plan(&book), "X").balance, wholes(&[8, 6, 6, 6]));
    // Three of five working days of the next week's need: 6, 9 and 3.
    let book = one_item("3 days,,,", "", &[5, 10, 15, 5]);
    assert_eq!(balance(&book, &plan(&book), "X").balance, wholes(&[6, 9, 3, 0]));
    // Eight days: all of the next week and three fifths of the one after it.
    let book = one_item("8 days,,,", "", &[5, 10, 15, 5]);
    assert_eq!(balance(&book, &plan(&book), "X").balance, wholes(&[19, 18, 5, 0]));
}

#[test]
fn open_orders_are_moved_to_where_they_are_needed() {
    let stock = "X,10,on order,2027-03-01\nX,10,on order,2027-03-08\nX,10,on order,2027-03-29\n\
                 X,10,on order,2027-03-30\nX,10,on order,2027-03-31\n";
    let book = one_item(",,,", stock, &[0, 5, 25, 1, 4]);
    let orders = plan(&book);
    let open: Vec<Move> =
        planned(&book, &orders, "X").open.iter().map(|open| open.change).collect();
    // 5 are needed by the second week, 30 by the third, 35 in all. The second order would move by a week, which is not
    // worth it; the first is not needed beside it.
    assert_eq!(open, [Move::Out(2), Move::Keep, Move::In(2), Move::In(3), Move::Cancel]);
    assert_eq!(balance(&book, &orders, "X").planned, wholes(&[0; 5]));
}

/// Balance = what was there + what came in + what is planned - what is needed, and never below zero.
#[test]
fn balances_carry_over_from_week_to_week() {
    let mut open_count = 0;
    for seed in 0..200 {
        let mut random = Random::new(seed);
        let units: Vec<u32> =
            (0..10).map(|_| u32::try_from(random.range(0, 20)).unwrap()).collect();
        let mut stock = format!("X,{},,\n", random.range(0, 40));
        for _ in 0..random.below(5) {
            let day = random.range(1, 28);
            let month = random.range(2, 5);
            stock += &format!("X,{},on order,2027-{month:02}-{day:02}\n", random.range(1, 30));
        }
        let terms = ["5,,,", "4 days,,,", ",fixed,16,", ",period,3,", ",,,7", "3,fixed,20,5"];
        let terms = terms[random.below(terms.len())];
        let book = one_item(terms, &stock, &units);
        let orders = plan(&book);
        let planned = planned(&book, &orders, "X");
        let balance = &planned.balances[0];
        let mut there = balance.on_hand.clone();
        for week in 0..orders.weeks.count {
            for open in &planned.open {
                let comes = match open.change {
                    Move::In(week) => week,
                    _ => open.due,
                };
                if comes == week {
                    there += &book.stock[open.row].quantity;
                    open_count += 1;
                }
            }
            there = there + &balance.planned[week] - &balance.gross[week];
            assert_eq!(balance.balance[week], there, "book {seed}, week {week}");
            assert!(!there.is_negative(), "book {seed}, week {week}: {there}");
        }
        let ordered: Ratio = planned.lines.iter().map(|line| line.units.clone()).sum();
        assert_eq!(ordered, balance.planned.iter().cloned().sum(), "book {seed}");
    }
    assert!(open_count > 200, "only {open_count} open orders came");
}

#[test]
fn the_lines_behind_an_item_add_up_to_what_is_required() {
    let book = book(&[
        (
            "options",
            "option,take_rate,choice,standard\nsolar,37 %,,\nsand,55 %,c,yes\nslate,45 %,c,\n",
        ),
        ("items", "item,form,unit\nX,bulk,gal\nY,count,\nS,linear,\n"),
        ("sizes", "item,length\nS,96\n"),
        ("assemblies", "assembly,stocked,lead_days,safety_stock\nA,yes,3,1\nB,,2,\n"),
        (
            "bill",
            "parent,component,quantity,length,when,scrap_percent,offset_days\n\
             P,A,2,,,,\nP,B,1,,solar,,1\nA,B,1,,,,\nA,X,0.5,,,5,\nB,X,1.25,,,,2\nB,Y,3,,slate,,\n\
             P,Y,1,,,,\nB,S,2,30,,3,\n",
        ),
        ("schedule", "plan,week,units,options\nP,2027-W10,3,\nP,2027-W11,2,slate\nP,2027-W13,4,\n"),
        ("stock", "item,quantity\nA,3\n"),
    ]);
    let orders = plan(&book);
    let pegged = |name: &str| -> Ratio {
        let pegs = orders.why(item(&book, name), 0, orders.weeks.count);
        pegs.iter().map(|peg| peg.measure.clone()).sum()
    };
    let gross: Ratio = balance(&book, &orders, "X").gross.iter().cloned().sum();
    assert_eq!(pegged("X"), gross * &book.item(item(&book, "X")).unit.factor);
    let gross: Ratio = balance(&book, &orders, "Y").gross.iter().cloned().sum();
    assert_eq!(pegged("Y").ceil(), gross);
    // Week by week as well.
    for week in 0..orders.weeks.count {
        let pegs = orders.why(item(&book, "X"), week, week + 1);
        let sum: Ratio = pegs.iter().map(|peg| peg.measure.clone()).sum();
        let gross = &balance(&book, &orders, "X").gross[week];
        assert_eq!(sum, gross * &book.item(item(&book, "X")).unit.factor, "week {week}");
    }
    let is_ahead = |peg: &cutbill::orders::Peg| matches!(peg.source, PegSource::Ahead(_));
    assert!(orders.why(item(&book, "S"), 0, orders.weeks.count).iter().any(is_ahead));
}
