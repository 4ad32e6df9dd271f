//! Expected demand: take rates against every configuration there is, one by one.

use cutbill::explode;
use cutbill::explode::What;
use cutbill::model::{Book, Form, OptionId, PlanId};
use cutbill::orders::Options;
use cutbill::quantity::Ratio;

use crate::look::{findings, findings_with};
use crate::purchasing::{balance, book, item, plan, plan_with, quick, wholes};
use crate::random::Random;

/// Independent options of a made-up book.
const SINGLES: usize = 4;
/// Options of its choice.
const CHOICE: [(&str, i128); 3] = [("sand", 55), ("slate", 30), ("maple", 15)];
/// Units of its schedule.
const UNITS: i64 = 7;

struct MadeUp {
    book: Book,
    rates: Vec<i128>,
    is_standard: Vec<bool>,
}

/// Makes a book in which options meet on paths, in conditions, in what is passed down, in openings and fills, and take
/// lines away from each other.
fn made_up(seed: u64) -> MadeUp {
    let mut random = Random::new(seed);
    let rates: Vec<i128> = (0..SINGLES).map(|_| i128::from(random.range(0, 100))).collect();
    let is_standard: Vec<bool> = (0..SINGLES).map(|_| random.chance(40)).collect();
    let has_standard = random.chance(60);
    let mut options = "option,standard,take_rate,choice\n".to_owned();
    for index in 0..SINGLES {
        let standard = if is_standard[index] { "yes" } else { "" };
        options += &format!("o{index},{standard},{} %,\n", rates[index]);
    }
    for (index, (name, rate)) in CHOICE.iter().enumerate() {
        let standard = if has_standard && index == 1 { "yes" } else { "" };
        options += &format!("{name},{standard},{rate} %,counter\n");
    }
    let condition = |random: &mut Random| {
        let mut name = || match random.below(SINGLES + 3) {
            index if index < SINGLES => format!("o{index}"),
            index => CHOICE[index - SINGLES].0.to_owned(),
        };
        let (one, other) = (name(), name());
        match random.below(6) {
            0 => one,
            1 => format!("NOT {one}"),
            2 => format!("{one} AND NOT {other}"),
            3 => format!("{one} OR {other}"),
            _ => String::new(),
        }
    };
    let mut bill = "parent,component,quantity,length,width,use,with,when\n".to_owned();
    let assemblies = 4;
    for parent in 0..=assemblies {
        let name = if parent == 0 { "P".to_owned() } else { format!("A{parent}") };
        for _ in 0..random.range(1, 3) {
            let when = condition(&mut random);
            let quantity = random.range(1, 5);
            let child = parent + 1 + random.below(2);
            if child <= assemblies && random.chance(60) {
                let index = random.below(SINGLES);
                let with = *random.pick(&["", "k = 9", "k = IF(o#; 2; 3)", "k = k + IF(o#; 1; 0)"]);
                let with = with.replace('#', &index.to_string());
                bill += &format!("{name},A{child},{quantity},,,,{with},{when}\n");
            } else {
                let quantity =
                    if random.chance(30) { "k".to_owned() } else { quantity.to_string() };
                bill += &format!("{name},X{},{quantity},,,,,{when}\n", random.below(3));
            }
        }
    }
    // Every assembly has a line, so that it is one.
    for parent in 1..=assemblies {
        bill += &format!("A{parent},X0,1,,,,,\n");
    }
    for index in 0..SINGLES {
        bill +=
            &format!("o{index},A{},{},,,,,\n", 1 + random.below(assemblies), random.range(1, 2));
        if random.chance(50) {
            bill +=
                &format!("o{index},X3,-{},,,,,{}\n", random.range(1, 2), condition(&mut random));
        }
    }
    bill += "P,X3,20,,,,,\n";
    bill += "P,door,1,3 ft,1 ft,opening,,o0\nP,door,1,2 ft,1 ft,opening,,slate\n";
    bill += &format!("P,batt,1,10 ft,4 ft,fill,,{}\n", condition(&mut random));
    let book = book(&[
        ("plans", "plan,length,width,k\nP,24 ft,8 ft,4\n"),
        ("options", &options),
        (
            "items",
            "item,form,unit\nX0,bulk,gal\nX1,bulk,gal\nX2,bulk,gal\nX3,count,\nbatt,bulk,ft2\n\
             door,count,\n",
        ),
        ("bill", &bill),
        ("schedule", &format!("plan,week,units\nP,2027-W10,{UNITS}\n")),
    ]);
    MadeUp { book, rates, is_standard }
}

/// Returns what one unit takes of every bulk item on average, by going through every configuration.
fn expected(made_up: &MadeUp) -> Vec<Ratio> {
    let book = &made_up.book;
    let id = |name: &str| {
        let index = book.options.iter().position(|option| option.name == name).unwrap();
        OptionId(u32::try_from(index).unwrap())
    };
    let mut sums = vec![Ratio::ZERO; book.items.len()];
    for bits in 0..1_usize << SINGLES {
        for (alternative, rate) in CHOICE {
            let mut chance = Ratio::decimal(rate, 2);
            let (mut chosen, mut without) = (vec![id(alternative)], Vec::new());
            for index in 0..SINGLES {
                let rate = Ratio::decimal(made_up.rates[index], 2);
                let is_there = bits >> index & 1 == 1;
                chance = chance * if is_there { rate } else { Ratio::ONE - rate };
                match (is_there, made_up.is_standard[index]) {
                    (true, false) => chosen.push(id(&format!("o{index}"))),
                    (false, true) => without.push(id(&format!("o{index}"))),
                    _ => {}
                }
            }
            let options = explode::Options {
                plans: vec![PlanId(0)],
                chosen,
                without,
                ..explode::Options::default()
            };
            let needs = explode::explode(book, &options).unwrap().value;
            for need in needs.flat(book, &needs.builds[0]).needs {
                if need.what == What::Amount {
                    sums[need.item.index()] += &(&need.required * &chance);
                }
            }
        }
    }
    sums
}

#[test]
fn expected_demand_is_the_sum_over_every_configuration() {
    let mut held = 0;
    for seed in 0..250 {
        let made_up = made_up(seed);
        let book = &made_up.book;
        let orders = plan(book);
        for (index, expected) in expected(&made_up).into_iter().enumerate() {
            let own = &book.items[index];
            let gross: Ratio = orders
                .planned
                .iter()
                .filter(|planned| planned.item.index() == index)
                .flat_map(|planned| &planned.balances[0].gross)
                .cloned()
                .sum();
            let measure = gross * &own.unit.factor;
            let all = Ratio::from(UNITS) * &expected;
            let all = if own.form == Form::Count { all.ceil() } else { all };
            assert_eq!(measure, all, "book {seed}, `{}`", own.name);
            held += usize::from(!expected.is_whole());
        }
    }
    assert!(held > 300, "only {held} expectations are no whole numbers");
}

/// Plans 100 units with these options, where item `X` is counted under a condition.
fn of_100(options: &str, when: &str) -> Ratio {
    let bill = format!("parent,component,when\nP,X,{when}\nP,Y,\n");
    let book = book(&[
        ("options", options),
        ("items", "item,form\nX,count\nY,count\n"),
        ("bill", &bill),
        ("schedule", "plan,week,units\nP,2027-W10,100\n"),
    ]);
    assert_eq!(findings(&book).iter().filter(|text| text.contains("take rate")).count(), 0);
    let orders = plan(&book);
    let id = item(&book, "X");
    let of_item = orders.planned.iter().filter(|planned| planned.item == id);
    of_item.flat_map(|planned| &planned.balances[0].gross).cloned().sum()
}

#[test]
fn an_option_that_brings_another_leaves_the_rest_of_its_rate() {
    let options = "option,take_rate,includes,excludes\nbig,40 %,small,\nsmall,60 %,,\n";
    for (when, count) in
        [("big", 40), ("small", 60), ("big AND small", 40), ("small AND NOT big", 20)]
    {
        assert_eq!(of_100(options, when), Ratio::from(count), "{when}");
    }
}

#[test]
fn options_that_exclude_each_other_are_never_together() {
    let options = "option,take_rate,includes,excludes\nu,50 %,,\nq,40 %,,u\n";
    for (when, count) in [("u", 50), ("q", 40), ("u AND q", 0), ("NOT u AND NOT q", 10)] {
        assert_eq!(of_100(options, when), Ratio::from(count), "{when}");
    }
}

#[test]
fn what_an_option_brings_excludes_too() {
    // `e` comes with `a`, which cannot be beside `b`: no unit has all of them, nor `e` beside `b`.
    let options = "option,take_rate,includes,excludes\nb,50 %,,\ne,30 %,a,\na,40 %,,b\n";
    for (when, count) in
        [("b", 50), ("e", 30), ("a", 40), ("e AND b", 0), ("a AND b", 0), ("a AND NOT e", 10)]
    {
        assert_eq!(of_100(options, when), Ratio::from(count), "{when}");
    }
    // So too where what is brought has no rate of its own, or is brought by what is brought.
    let silent = "option,take_rate,includes,excludes\nb,50 %,,\ne,30 %,m,\nm,,a,\na,,,b\n";
    for (when, count) in [("b", 50), ("e", 30), ("e AND b", 0), ("a", 30), ("a AND b", 0)] {
        assert_eq!(of_100(silent, when), Ratio::from(count), "{when}");
    }
}

#[test]
fn choices_without_a_standard_option_need_no_order_to_settle_them() {
    let options = "option,take_rate,choice\na,25 %,one\nb,75 %,one\nc,40 %,two\nd,60 %,two\n";
    for (when, count) in [("a", 25), ("d", 60), ("a AND d", 15), ("b AND c", 30)] {
        assert_eq!(of_100(options, when), Ratio::from(count), "{when}");
    }
}

#[test]
fn of_a_choice_whose_rates_leave_some_the_standard_one_takes_the_rest() {
    let options = "option,take_rate,choice,standard\na,25 %,one,\nb,,one,yes\nc,,one,\n";
    for (when, count) in [("a", 25), ("b", 75), ("c", 0)] {
        assert_eq!(of_100(options, when), Ratio::from(count), "{when}");
    }
}

#[test]
fn take_rates_that_cannot_hold_together_are_told() {
    let book = book(&[
        ("options", "option,take_rate,excludes\nu,70 %,\nq,40 %,u\n"),
        ("items", "item,form\nX,count\n"),
        ("bill", "parent,component,when\nP,X,u AND q\nP,X,q\n"),
        ("schedule", "plan,week,units\nP,2027-W10,100\n"),
    ]);
    let found = findings(&book);
    let expected = "warning: options.csv:3: column `take_rate`: the take rate of `q` cannot hold \
                    beside what other options bring or exclude";
    assert!(found.iter().any(|text| text == expected), "{found:#?}");
}

#[test]
fn an_order_settles_its_options_and_leaves_its_choices_to_take_rates() {
    let book = book(&[
        (
            "options",
            "option,take_rate,choice,standard\nwinter,30 %,,\nsolar,50 %,,\nsand,55 %,counter,yes\n\
             slate,45 %,counter,\n",
        ),
        ("items", "item,form,unit\nX,bulk,gal\nY,bulk,gal\nZ,bulk,gal\n"),
        ("bill", "parent,component,when\nP,X,winter\nP,Y,solar\nP,Z,slate AND winter\n"),
        (
            "schedule",
            "plan,week,units,options\nP,2027-W09,10,winter\nP,2027-W10,10,none\n\
             P,2027-W11,10,winter; slate\nP,2027-W12,10,\n",
        ),
    ]);
    let orders = plan(&book);
    let gross = |name: &str| balance(&book, &orders, name).gross.clone();
    assert_eq!(gross("X"), wholes(&[10, 0, 10, 3]));
    assert_eq!(gross("Y"), wholes(&[0, 0, 0, 5]));
    let mut expected = wholes(&[0, 0, 10, 0]);
    expected[0] = Ratio::decimal(45, 1);
    expected[3] = Ratio::decimal(135, 2);
    assert_eq!(gross("Z"), expected);
}

/// Returns the chance that at most `takers` of `units` take, summed up from the definition.
fn chance(units: u32, takers: u32, rate: &Ratio) -> Ratio {
    let misses = &Ratio::ONE - rate;
    let power = |base: &Ratio, times: u32| (0..times).fold(Ratio::ONE, |power, _| power * base);
    (0..=takers)
        .map(|count| {
            let ways = (0..count).fold(Ratio::ONE, |ways, step| {
                ways * Ratio::new(i128::from(units - step), i128::from(step + 1)).unwrap()
            });
            ways * power(rate, count) * power(&misses, units - count)
        })
        .sum()
}

fn doubtful_book(rate: u32, units: &[u32]) -> Book {
    let rows = (10..).zip(units).map(|(week, units)| format!("P,2027-W{week:02},{units}\n"));
    let rows = rows.collect::<Vec<_>>().concat();
    book(&[
        ("options", &format!("option,take_rate\nsolar,{rate} %\n")),
        ("items", "item,form\nX,count\nY,count\n"),
        ("bill", "parent,component,when\nP,X,solar\nP,Y,\n"),
        ("schedule", &format!("plan,week,units\n{rows}")),
    ])
}

// The quantile of the binomial distribution, from its definition.
#[test]
fn a_service_level_covers_takers_with_its_chance() {
    for (rate, units, percent) in
        [(20, 10, 95), (50, 7, 90), (3, 40, 99), (97, 12, 80), (33, 25, 50)]
    {
        let level = Ratio::decimal(percent, 2);
        let book = doubtful_book(rate, &[units]);
        let options = Options { service_level: Some(level.clone()), ..quick() };
        let orders = plan_with(&book, &options);
        let exact = Ratio::decimal(rate.into(), 2);
        let least = (0..=units).find(|takers| chance(units, *takers, &exact) >= level).unwrap();
        let expected = Ratio::from(i64::from(units)) * &exact;
        let planned = Ratio::from(i64::from(least)).max(expected.clone());
        let doubt = &orders.doubtful[0];
        let name = format!("{rate} % of {units} at {percent} %");
        assert_eq!((&doubt.expected, &doubt.covered), (&expected, &planned), "{name}");
        let ordered: Ratio = balance(&book, &orders, "X").gross.iter().cloned().sum();
        assert_eq!(ordered, planned.ceil(), "{name}");
        assert_eq!(balance(&book, &orders, "Y").gross[1], Ratio::from(i64::from(units)), "{name}");
    }
}

#[test]
fn a_service_level_holds_at_the_end_of_every_week() {
    let units = [3, 1, 8, 2, 5, 9, 1, 1, 12, 4];
    let level = Ratio::decimal(9, 1);
    let book = doubtful_book(30, &units);
    let options = Options { service_level: Some(level.clone()), ..quick() };
    let orders = plan_with(&book, &options);
    let gross = &balance(&book, &orders, "X").gross;
    let rate = Ratio::decimal(3, 1);
    for week in 1..=units.len() {
        let so_far: u32 = units[..week].iter().sum();
        let least = (0..=so_far).find(|takers| chance(so_far, *takers, &rate) >= level).unwrap();
        // The schedule begins in the second week.
        let there: Ratio = gross[..=week].iter().cloned().sum();
        assert!(there >= Ratio::from(i64::from(least)), "week {week}: {there} of {least}");
    }
    let most: Ratio = gross.iter().cloned().sum();
    assert!(most <= Ratio::from(20), "{most} of 46 units at 30 % are more than it takes");
}

#[test]
fn orders_that_name_their_options_leave_no_doubt() {
    let book = book(&[
        ("options", "option,take_rate\nsolar,30 %\n"),
        ("items", "item,form,price\nX,count,1\n"),
        ("bill", "parent,component,when\nP,X,solar\nP,X,\n"),
        ("schedule", "plan,week,units,options\nP,2027-W10,4,solar\nP,2027-W10,6,none\n"),
    ]);
    let options = Options { service_level: Some(Ratio::decimal(99, 2)), ..quick() };
    let orders = plan_with(&book, &options);
    assert_eq!(balance(&book, &orders, "X").gross, wholes(&[0, 14]));
    assert_eq!(findings_with(&book, &options), Vec::<String>::new());
}
