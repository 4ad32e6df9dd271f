//! Nests for the floor: days of stations, cuts in order, set-ups, extra pieces.

use super::{check, cutbill};

/// A plan of two walls and a box, three units of it, and saws that take two sheets at once.
const BOOK: [(&str, &str); 7] = [
    ("book/settings.csv", "key,value\nas_of,2027-03-01\nbook_height,2\n"),
    ("book/plans.csv", "plan\nP\n"),
    (
        "book/assemblies.csv",
        "assembly,station,stocked,offset_days\nWALL,walls,,\nBOX,cabinets,,1\n",
    ),
    (
        "book/bill.csv",
        "parent,component,quantity,length,width,use\nP,WALL,2,,,\nP,BOX,1,,,\nWALL,PANEL,1,48 in,20 in,piece\nBOX,PANEL,3,24 in,12 in,piece\nBOX,RAIL,2,30 in,,piece\n",
    ),
    (
        "book/items.csv",
        "item,form,price,price_unit,weight,kerf,offcut_min,grain\nPANEL,sheet,40,each,40 lb/ft2,1/8 in,6 in,length\nRAIL,linear,8,each,1 lb/ft,1/8 in,6 in,\n",
    ),
    ("book/sizes.csv", "item,length,width\nPANEL,96 in,48 in\nRAIL,96 in,\n"),
    ("book/schedule.csv", "plan,date,units,order,first_unit\nP,2027-03-08,3,B-1,101\n"),
];

/// Checks an answer about the book with some of its tables changed; an empty one is left out.
#[track_caller]
fn shop(test: &str, changed: &[(&str, &str)], arguments: &[&str], expected: &str) {
    check(&format!("shop_{test}"), &changed_book(changed), arguments, expected);
}

fn changed_book<'a>(changed: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let is_kept = |(name, _): &&(&str, &str)| changed.iter().all(|(other, _)| other != name);
    let kept = BOOK.iter().filter(is_kept).chain(changed).copied();
    kept.filter(|(_, text)| !text.is_empty()).collect()
}

#[test]
fn a_list_of_cuts_can_be_followed() {
    shop(
        "cuts",
        &[],
        &["nest", "book", "--lot", "5", "--cuts", "--verify", "--width", "120"],
        r"exit 0
-- out
book, on 2027-03-01, digest f75b716d736cf372

P: nests, lots of 5
item   pieces  stock            cost USD  bound USD  gap %  yield %  ended   bound by     set-ups
─────────────────────────────────────────────────────────────────────────────────────────────────
PANEL      25  5 of 96 x 48 in  200.0000   200.0000    0.0     60.4  proven  usable area        3
RAIL       10  4 of 96 in        32.0000    32.0000    0.0     78.1  proven  length             2

P: PANEL, kerf 1/8 in
layout  times            set-ups  stock       pieces, in                  offcuts kept, in
──────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1      5  3: 2 of 2, 1 of 1  96 x 48 in  3 of 24 x 12, 2 of 48 x 20  24 x 11-5/8, 48 x 7-3/4, 23-3/4 x 48

P: PANEL, kerf 1/8 in: cuts in order
layout  times  cut  stage  way       through  from      at, in  set, in  kerf    comes free, in
─────────────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1      5    1  1      crosscut  sheet    left end      24       24  behind  part 1, 24 x 48
     1      5    2  1      crosscut  sheet    left end  72-1/8       48  behind  part 2, 48 x 48; offcut 23-3/4 x 48
     1      5    3  2      rip       part 1   top edge      12       12  behind  piece 1, 24 x 12
     1      5    4  2      rip       part 1   top edge  24-1/8       12  behind  piece 1, 24 x 12
     1      5    5  2      rip       part 1   top edge  36-1/4       12  behind  piece 1, 24 x 12; offcut 24 x 11-5/8
     1      5    6  2      rip       part 2   top edge      20       20  behind  piece 2, 48 x 20
     1      5    7  2      rip       part 2   top edge  40-1/8       20  behind  piece 2, 48 x 20; offcut 48 x 7-3/4

P: RAIL, kerf 1/8 in
layout  times  stock  pieces, in  offcuts kept, in
──────────────────────────────────────────────────
     1      3  96 in  3 of 30
     2      1  96 in  30          65-7/8

P: RAIL, kerf 1/8 in: cuts in order
layout  times  cut  from      at, in  set, in  kerf    comes free, in
─────────────────────────────────────────────────────────────────────────────────
     1      3    1  left end      30       30  behind  piece 1, 30
     1      3    2  left end  60-1/8       30  behind  piece 1, 30
     1      3    3  left end  90-1/4       30  behind  piece 1, 30; waste 5-5/8
     2      1    1  left end      30       30  behind  piece 1, 30; offcut 65-7/8

A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.
Counts of sheets, rolls and sticks depend on the kerf, trim, grain and smallest offcut the book gives.
A rip runs along the length of the stock, a crosscut across it, each from edge to edge of the part it goes through.
  `at` is where the good edge lies in the drawing, `set` how far it is from the edge of what is left of the part. The
  saw takes its kerf behind that edge, or before it where it says so.
-- err
note: verified: 2 nests with 3 layouts and 35 pieces keep every rule
",
    );
}

#[test]
fn a_csv_of_cuts_holds_nothing_else() {
    shop(
        "cuts_csv",
        &[
            ("book/settings.csv", "key,value\nmax_stages,2\n"),
            (
                "book/items.csv",
                "item,form,price,price_unit,weight,kerf,trim,offcut_min,grain\nPANEL,sheet,40,each,40 lb/ft2,1/8 in,1/4 in,6 in,length\nRAIL,linear,8,each,1 lb/ft,1/8 in,,6 in,\n",
            ),
        ],
        &["nest", "book", "--cuts", "--format", "csv"],
        r#"exit 0
-- out
plan,item,layout,times,cut,stage,way,through,from,"at, in","set, in",kerf,"comes free, in"
P,PANEL,1,1,1,trim,crosscut,sheet,left end,1/4,1/4,before,waste 1/8 x 48
P,PANEL,1,1,2,trim,crosscut,sheet,left end,95-3/4,95-1/2,behind,waste 1/8 x 48
P,PANEL,1,1,3,trim,rip,sheet,top edge,1/4,1/4,before,waste 95-1/2 x 1/8
P,PANEL,1,1,4,trim,rip,sheet,top edge,47-3/4,47-1/2,behind,waste 95-1/2 x 1/8
P,PANEL,1,1,5,1,crosscut,sheet,left end,48-1/4,48,behind,"part 1, 48 x 47-1/2"
P,PANEL,1,1,6,1,crosscut,sheet,left end,72-3/8,24,behind,"part 2, 24 x 47-1/2; offcut 23-1/4 x 47-1/2"
P,PANEL,1,1,7,2,rip,part 1,top edge,20-1/4,20,behind,"piece 1, 48 x 20"
P,PANEL,1,1,8,2,rip,part 1,top edge,40-3/8,20,behind,"piece 1, 48 x 20; offcut 48 x 7-1/4"
P,PANEL,1,1,9,2,rip,part 2,top edge,12-1/4,12,behind,"piece 2, 24 x 12"
P,PANEL,1,1,10,2,rip,part 2,top edge,24-3/8,12,behind,"piece 2, 24 x 12"
P,PANEL,1,1,11,2,rip,part 2,top edge,36-1/2,12,behind,"piece 2, 24 x 12; offcut 24 x 11-1/8"
-- err
"#,
    );
}

#[test]
fn each_station_has_nests_of_its_own_with_the_unit_of_each_piece() {
    shop(
        "station",
        &[(
            "book/assemblies.csv",
            "assembly,station,stocked,offset_days\nWALL,walls,,\nBOX,cabinets,,\n",
        )],
        &["nest", "book", "--for", "shop", "--on", "2027-03-08", "--width", "110"],
        r"exit 0
-- out
book, on 2027-03-08, digest d9693cfe3608e403

nests of the day
station   item   pieces  stock            cost USD  bound USD  gap %  yield %  ended   bound by     set-ups
───────────────────────────────────────────────────────────────────────────────────────────────────────────
walls     PANEL       6  3 of 96 x 48 in  120.0000   120.0000    0.0     41.7  proven  usable area        2
cabinets  PANEL       9  1 of 96 x 48 in   40.0000    40.0000    0.0     56.2  proven  usable area        1
cabinets  RAIL        6  2 of 96 in        16.0000    16.0000    0.0     93.8  proven  length             1

walls: PANEL, kerf 1/8 in
layout  times            set-ups  stock       pieces, in    offcuts kept, in
───────────────────────────────────────────────────────────────────────────────────
     1      3  2: 1 of 2, 1 of 1  96 x 48 in  2 of 48 x 20  48 x 7-3/4, 47-7/8 x 48

walls: PANEL, kerf 1/8 in: pieces by unit
layout   sheet  piece  count  size, in  unit  for   plan  order  at, in
───────────────────────────────────────────────────────────────────────────────────
     1  1 of 3      1      2  48 x 20   #101  WALL  P     B-1    (0, 0) (0, 20-1/8)
     1  2 of 3      1      2  48 x 20   #102  WALL  P     B-1    (0, 0) (0, 20-1/8)
     1  3 of 3      1      2  48 x 20   #103  WALL  P     B-1    (0, 0) (0, 20-1/8)

cabinets: PANEL, kerf 1/8 in
layout  times  stock       pieces, in    offcuts kept, in
──────────────────────────────────────────────────────────────────────
     1      1  96 x 48 in  9 of 24 x 12  3 of 24 x 11-5/8, 23-5/8 x 48

cabinets: PANEL, kerf 1/8 in: pieces by unit
layout   sheet  piece  count  size, in  unit  for  plan  order  at, in
─────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1  1 of 1      1      3  24 x 12   #101  BOX  P     B-1    (0, 0) (0, 12-1/8) (0, 24-1/4)
     1  1 of 1      1      3  24 x 12   #102  BOX  P     B-1    (24-1/8, 0) (24-1/8, 12-1/8) (24-1/8, 24-1/4)
     1  1 of 1      1      3  24 x 12   #103  BOX  P     B-1    (48-1/4, 0) (48-1/4, 12-1/8) (48-1/4, 24-1/4)

cabinets: RAIL, kerf 1/8 in
layout  times  stock  pieces, in  offcuts kept, in
──────────────────────────────────────────────────
     1      2  96 in  3 of 30

cabinets: RAIL, kerf 1/8 in: pieces by unit
layout   stick  piece  count  size, in  unit  for  plan  order  at, in
─────────────────────────────────────────────────────────────────────────────
     1  1 of 2      1      2  30        #101  BOX  P     B-1    0 30-1/8
     1  1 of 2      1      1  30        #102  BOX  P     B-1    60-1/4
     1  2 of 2      1      1  30        #102  BOX  P     B-1    0
     1  2 of 2      1      2  30        #103  BOX  P     B-1    30-1/8 60-1/4

Offcuts, as rows of table `stock`
item   length  width   quantity  kind
────────────────────────────────────────
PANEL  48      7-3/4          3  on hand
PANEL  47-7/8  48             3  on hand
PANEL  24      11-5/8         3  on hand
PANEL  23-5/8  48             1  on hand

A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.
Counts of sheets, rolls and sticks depend on the kerf, trim, grain and smallest offcut the book gives.
-- err
",
    );
}

#[test]
#[expect(clippy::too_many_lines, reason = "a whole answer is long")]
fn one_station_can_be_asked_for_and_drawn_with_its_cuts() {
    shop(
        "one_station",
        &[],
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-05",
            "--station",
            "Cabinets",
            "--draw",
            "--cuts",
            "--width",
            "110",
        ],
        r"exit 0
-- out
book, on 2027-03-05, digest f75b716d736cf372

cabinets: nests of the day
item   pieces  stock            cost USD  bound USD  gap %  yield %  ended   bound by     set-ups
─────────────────────────────────────────────────────────────────────────────────────────────────
PANEL       9  1 of 96 x 48 in   40.0000    40.0000    0.0     56.2  proven  usable area        1
RAIL        6  2 of 96 in        16.0000    16.0000    0.0     93.8  proven  length             1

cabinets: PANEL, kerf 1/8 in
layout 1, once 96 x 48 in
┌────────────────────────┬────────────────────────┬────────────────────────┬────────────────────────┐
│                        │                        │                        │························│
│                        │                        │                        │························│
│           1            │           1            │           1            │························│
│                        │                        │                        │························│
│                        │                        │                        │························│
├────────────────────────┼────────────────────────┼────────────────────────┤························│
│                        │                        │                        │························│
│                        │                        │                        │························│
│           1            │           1            │           1            │························│
│                        │                        │                        │························│
│                        │                        │                        │························│
│                        │                        │                        │························│
├────────────────────────┼────────────────────────┼────────────────────────┤························│
│                        │                        │                        │························│
│                        │                        │                        │························│
│           1            │           1            │           1            │························│
│                        │                        │                        │························│
│                        │                        │                        │························│
├────────────────────────┴────────────────────────┴────────────────────────┘························│
│···································································································│
│···································································································│
│···································································································│
│···································································································│
│···································································································│
└───────────────────────────────────────────────────────────────────────────────────────────────────┘
  1: 9 of 24 x 12 in at (0, 0) (0, 12-1/8) (0, 24-1/4) (24-1/8, 0) (24-1/8, 12-1/8) (24-1/8, 24-1/4)
    (48-1/4, 0) (48-1/4, 12-1/8) (48-1/4, 24-1/4)
  · kept: 24 x 11-5/8, 24 x 11-5/8, 24 x 11-5/8, 23-5/8 x 48 in

cabinets: PANEL, kerf 1/8 in: cuts in order
layout  times  cut  stage  way       through  from      at, in  set, in  kerf    comes free, in
──────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1      1    1  1      crosscut  sheet    left end      24       24  behind  part 1, 24 x 48
     1      1    2  1      crosscut  sheet    left end  48-1/8       24  behind  part 2, 24 x 48
     1      1    3  1      crosscut  sheet    left end  72-1/4       24  behind  part 3, 24 x 48; offcut
                                                                                 23-5/8 x 48
     1      1    4  2      rip       part 1   top edge      12       12  behind  piece 1, 24 x 12
     1      1    5  2      rip       part 1   top edge  24-1/8       12  behind  piece 1, 24 x 12
     1      1    6  2      rip       part 1   top edge  36-1/4       12  behind  piece 1, 24 x 12; offcut 24 x
                                                                                 11-5/8
     1      1    7  2      rip       part 2   top edge      12       12  behind  piece 1, 24 x 12
     1      1    8  2      rip       part 2   top edge  24-1/8       12  behind  piece 1, 24 x 12
     1      1    9  2      rip       part 2   top edge  36-1/4       12  behind  piece 1, 24 x 12; offcut 24 x
                                                                                 11-5/8
     1      1   10  2      rip       part 3   top edge      12       12  behind  piece 1, 24 x 12
     1      1   11  2      rip       part 3   top edge  24-1/8       12  behind  piece 1, 24 x 12
     1      1   12  2      rip       part 3   top edge  36-1/4       12  behind  piece 1, 24 x 12; offcut 24 x
                                                                                 11-5/8

cabinets: PANEL, kerf 1/8 in: pieces by unit
layout   sheet  piece  count  size, in  unit  for  plan  order  at, in
─────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1  1 of 1      1      3  24 x 12   #101  BOX  P     B-1    (0, 0) (0, 12-1/8) (0, 24-1/4)
     1  1 of 1      1      3  24 x 12   #102  BOX  P     B-1    (24-1/8, 0) (24-1/8, 12-1/8) (24-1/8, 24-1/4)
     1  1 of 1      1      3  24 x 12   #103  BOX  P     B-1    (48-1/4, 0) (48-1/4, 12-1/8) (48-1/4, 24-1/4)

cabinets: RAIL, kerf 1/8 in
layout 1, twice 96 in
┌──────────────────────────────┬───────────────────────────────┬──────────────────────────────┬─────┐
│              1               │               1               │              1               │░░░░░│
└──────────────────────────────┴───────────────────────────────┴──────────────────────────────┴─────┘
  1: 3 of 30 in at 0 30-1/8 60-1/4

cabinets: RAIL, kerf 1/8 in: cuts in order
layout  times  cut  from      at, in  set, in  kerf    comes free, in
───────────────────────────────────────────────────────────────────────────────
     1      2    1  left end      30       30  behind  piece 1, 30
     1      2    2  left end  60-1/8       30  behind  piece 1, 30
     1      2    3  left end  90-1/4       30  behind  piece 1, 30; waste 5-5/8

cabinets: RAIL, kerf 1/8 in: pieces by unit
layout   stick  piece  count  size, in  unit  for  plan  order  at, in
─────────────────────────────────────────────────────────────────────────────
     1  1 of 2      1      2  30        #101  BOX  P     B-1    0 30-1/8
     1  1 of 2      1      1  30        #102  BOX  P     B-1    60-1/4
     1  2 of 2      1      1  30        #102  BOX  P     B-1    0
     1  2 of 2      1      2  30        #103  BOX  P     B-1    30-1/8 60-1/4

Offcuts, as rows of table `stock`
item   length  width   quantity  kind
────────────────────────────────────────
PANEL  24      11-5/8         3  on hand
PANEL  23-5/8  48             1  on hand

A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.
Counts of sheets, rolls and sticks depend on the kerf, trim, grain and smallest offcut the book gives.
A rip runs along the length of the stock, a crosscut across it, each from edge to edge of the part it goes
  through. `at` is where the good edge lies in the drawing, `set` how far it is from the edge of what is left
  of the part. The saw takes its kerf behind that edge, or before it where it says so.
-- err
",
    );
}

#[test]
fn what_each_piece_is_for_is_told_alone() {
    shop(
        "pieces",
        &[
            ("book/schedule.csv", "plan,date,units\nP,2027-03-08,2\n"),
            (
                "book/bill.csv",
                "parent,component,quantity,length,width,use,scrap_percent\nP,WALL,2,,,,\nP,BOX,1,,,,\nWALL,PANEL,1,48 in,20 in,piece,\nBOX,PANEL,3,24 in,12 in,piece,20\nBOX,RAIL,2,30 in,,piece,\n",
            ),
        ],
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-05",
            "--show",
            "pieces",
            "--format",
            "csv",
        ],
        r#"exit 0
-- out
station,item,layout,sheet,piece,count,"size, in",unit,for,plan,order,"at, in"
cabinets,PANEL,1,1,1,3,24 x 12,P 2027-03-08/1,BOX,P,,"(0, 0) (0, 12-1/8) (0, 24-1/4)"
cabinets,PANEL,1,1,1,3,24 x 12,P 2027-03-08/2,BOX,P,,"(24-1/8, 0) (24-1/8, 12-1/8) (24-1/8, 24-1/4)"
cabinets,PANEL,1,1,1,2,24 x 12,spare,,,,"(48-1/4, 0) (48-1/4, 12-1/8)"
-- err
warning: bill.csv:5: column `scrap_percent`: scrap of 20 % on a nested line; nesting already counts the cutting waste
"#,
    );
}

#[test]
fn options_that_are_not_said_and_assemblies_built_ahead_are_told() {
    shop(
        "assumed",
        &[
            ("book/options.csv", "option\nsolar\n"),
            (
                "book/assemblies.csv",
                "assembly,station,stocked,offset_days\nWALL,walls,,\nBOX,cabinets,yes,\n",
            ),
        ],
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--show",
            "nests",
            "--width",
            "100",
        ],
        r"exit 0
-- out
book, on 2027-03-08, digest 025f0a13c75a77d0

walls: nests of the day
item   pieces  stock            cost USD  bound USD  gap %  yield %  ended   bound by     set-ups
─────────────────────────────────────────────────────────────────────────────────────────────────
PANEL       6  3 of 96 x 48 in  120.0000   120.0000    0.0     41.7  proven  usable area        2

A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.
Counts of sheets, rolls and sticks depend on the kerf, trim, grain and smallest offcut the book
  gives.
-- err
note: options.csv:2: option `solar` has no bill lines
warning: schedule.csv:2: column `options`: the options of 3 units of `P` are not said: they are cut with the standard ones
note: built ahead, so not cut for a unit: `BOX`
",
    );
}

#[test]
fn a_running_change_holds_from_its_unit_on() {
    shop(
        "change",
        &[
            ("book/swaps.csv", "swap,from,to,from_unit,approved\nthinner,PANEL,THIN,#103,yes\n"),
            (
                "book/items.csv",
                "item,form,price,price_unit,weight,kerf,offcut_min,grain\nPANEL,sheet,40,each,40 lb/ft2,1/8 in,6 in,length\nRAIL,linear,8,each,1 lb/ft,1/8 in,6 in,\nTHIN,sheet,30,each,30 lb/ft2,1/8 in,6 in,length\n",
            ),
            (
                "book/sizes.csv",
                "item,length,width\nPANEL,96 in,48 in\nRAIL,96 in,\nTHIN,96 in,48 in\n",
            ),
        ],
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--show",
            "pieces",
            "--format",
            "csv",
        ],
        r#"exit 0
-- out
station,item,layout,sheet,piece,count,"size, in",unit,for,plan,order,"at, in"
walls,PANEL,1,1,1,2,48 x 20,#101,WALL,P,B-1,"(0, 0) (0, 20-1/8)"
walls,PANEL,1,2,1,2,48 x 20,#102,WALL,P,B-1,"(0, 0) (0, 20-1/8)"
walls,THIN,1,1,1,2,48 x 20,#103,WALL,P,B-1,"(0, 0) (0, 20-1/8)"
-- err
"#,
    );
}

#[test]
fn a_limit_of_layouts_that_cannot_be_held_is_told() {
    shop(
        "merged",
        &[(
            "book/bill.csv",
            "parent,component,quantity,length,width,use\nP,WALL,1,,,\nWALL,RAIL,1,50 in,,piece\nWALL,RAIL,1,45 in,,piece\nWALL,RAIL,1,47 in,,piece\nWALL,RAIL,1,46 in,,piece\n",
        )],
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--layouts",
            "1",
            "--show",
            "layouts",
            "--width",
            "100",
        ],
        r"exit 0
-- out
book, on 2027-03-08, digest ea93a2b5a6751dbe

walls: RAIL, kerf 1/8 in
layout  times  stock  pieces, in  offcuts kept, in
──────────────────────────────────────────────────
     1      3  96 in  47, 46
     2      3  96 in  50, 45
-- err
warning: assemblies.csv:3: assembly `BOX` is on no bill
note: items.csv:2: item `PANEL` is on no bill
warning: walls: `RAIL` is cut in 2 layouts, above 1: no more can be merged at equal cost
",
    );
}

#[test]
fn a_shop_without_a_schedule_says_so() {
    shop(
        "no_schedule",
        &[("book/schedule.csv", "")],
        &["nest", "book", "--for", "shop"],
        r"exit 2
-- out
-- err
error: the book has no schedule, so no station has units to cut for
  hint: table `schedule` says how many units of a plan are due when
",
    );
}

#[test]
fn a_shop_without_a_day_says_so() {
    shop(
        "no_day",
        &[("book/settings.csv", "key,value\ncurrency,USD\n")],
        &["nest", "book", "--for", "shop"],
        r"exit 2
-- out
-- err
error: the shop needs a day to cut for
  hint: name it with `--on`, or give `as_of` in `settings`
",
    );
}

#[test]
fn a_day_without_work_names_the_nearest_with_work() {
    shop(
        "idle",
        &[],
        &["nest", "book", "--for", "shop", "--on", "2027-03-03"],
        r"exit 2
-- out
-- err
error: no station has anything to cut on 2027-03-03
  hint: the nearest day with work is 2027-03-05
",
    );
}

#[test]
fn a_station_without_work_names_those_that_have_some() {
    shop(
        "idle_station",
        &[],
        &["nest", "book", "--for", "shop", "--on", "2027-03-05", "--station", "walls"],
        r"exit 2
-- out
-- err
error: station `walls` has nothing to cut on 2027-03-05, but `cabinets` has
  hint: the nearest day with work is 2027-03-08
",
    );
}

#[test]
fn an_unknown_station_is_told() {
    shop(
        "unknown_station",
        &[],
        &["nest", "book", "--for", "shop", "--on", "2027-03-05", "--station", "wals"],
        r"exit 2
-- out
-- err
error: no station named `wals`
  hint: did you mean `walls`?
",
    );
}

/// Two stations that cut the same on one day, and an offcut for each.
const SHARED: [(&str, &str); 3] = [
    ("book/assemblies.csv", "assembly,station,stocked,offset_days\nWALL,walls,,\nBOX,cabinets,,\n"),
    (
        "book/bill.csv",
        "parent,component,quantity,length,width,use\nP,WALL,1,,,\nP,BOX,1,,,\nWALL,PANEL,1,48 in,20 in,piece\nBOX,PANEL,1,48 in,20 in,piece\nBOX,RAIL,2,30 in,,piece\n",
    ),
    (
        "book/stock.csv",
        "item,length,width,quantity,kind\nPANEL,50 in,26 in,2,on hand\nPANEL,24 in,12 in,1,on hand\nRAIL,60-1/8 in,,1,on hand\nRAIL,31 in,,4,on hand\n",
    ),
];

#[test]
fn stations_share_the_offcuts_on_hand_and_take_no_more_than_spare_new_stock() {
    shop(
        "offcuts",
        &SHARED,
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--show",
            "nests",
            "--width",
            "140",
            "--verify",
        ],
        r"exit 0
-- out
book, on 2027-03-08, digest 340657218073a432

nests of the day
station   item   pieces  stock                                         cost USD  bound USD  gap %  yield %  ended   bound by     set-ups
────────────────────────────────────────────────────────────────────────────────────────────────────────────────────────────────────────
walls     PANEL       3  1 of 96 x 48 in, 1 of 50 x 26 in (offcut)      40.0000    40.0000    0.0     48.7  proven  usable area        2
cabinets  PANEL       3  1 of 96 x 48 in, 1 of 50 x 26 in (offcut)      40.0000    40.0000    0.0     48.7  proven  usable area        2
cabinets  RAIL        6  1 of 60-1/8 in (offcut), 4 of 31 in (offcut)    0.0000     0.0000    0.0     97.8  proven  length             2

A bound is a cost that no way of cutting can go below; a gap of 0.0 is proven to be the best.
Counts of sheets, rolls and sticks depend on the kerf, trim, grain and smallest offcut the book gives.
-- err
note: verified: 3 nests with 6 layouts and 12 pieces keep every rule
",
    );
}

#[test]
fn layouts_of_offcuts_are_marked() {
    shop(
        "offcut_layouts",
        &SHARED,
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--station",
            "cabinets",
            "--show",
            "layouts",
        ],
        r"exit 0
-- out
book, on 2027-03-08, digest 340657218073a432

cabinets: PANEL, kerf 1/8 in
layout  times  stock                pieces, in    offcuts kept, in
─────────────────────────────────────────────────────────────────────────
     1      1  96 x 48 in           2 of 48 x 20  48 x 7-3/4, 47-7/8 x 48
     2      1  50 x 26 in (offcut)  48 x 20

cabinets: RAIL, kerf 1/8 in
layout  times  stock               pieces, in  offcuts kept, in
───────────────────────────────────────────────────────────────
     1      4  31 in (offcut)      30
     2      1  60-1/8 in (offcut)  2 of 30
-- err
",
    );
}

#[test]
fn offcuts_can_be_left_where_they_are() {
    shop(
        "new_stock",
        &SHARED,
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--show",
            "nests",
            "--new-stock",
            "--format",
            "csv",
        ],
        r"exit 0
-- out
station,item,pieces,run ft,stock,cost USD,bound USD,gap %,yield %,ended,bound by,set-ups
walls,PANEL,3,,2 of 96 x 48 in,80.0000,80.0000,0.0,31.2,proven,usable area,2
cabinets,PANEL,3,,2 of 96 x 48 in,80.0000,80.0000,0.0,31.2,proven,usable area,2
cabinets,RAIL,6,,2 of 96 in,16.0000,16.0000,0.0,93.8,proven,length,1
-- err
",
    );
}

#[test]
fn an_extra_piece_takes_no_offcut_that_another_station_cuts() {
    shop(
        "extra_shared",
        &SHARED,
        &[
            "nest",
            "book",
            "--for",
            "shop",
            "--on",
            "2027-03-08",
            "--station",
            "walls",
            "--extra",
            "PANEL 49 x 20 x2",
            "--width",
            "110",
        ],
        r"exit 0
-- out
book, on 2027-03-08, digest 340657218073a432

PANEL: extra pieces
extra, in     times  goes into              at, in              as layout  cost USD
───────────────────────────────────────────────────────────────────────────────────
2 of 49 x 20      1  new stock, 96 x 48 in  (0, 0) (0, 20-1/8)          1   40.0000
───────────────────────────────────────────────────────────────────────────────────
together                                                                    40.0000

walls: PANEL, kerf 1/8 in
layout  times  stock       pieces, in    offcuts kept, in
────────────────────────────────────────────────────────────────
     1      1  96 x 48 in  2 of 49 x 20  49 x 7-3/4, 46-7/8 x 48

Layouts that are not named stay as they are.
-- err
",
    );
}

#[test]
fn what_only_a_shop_has_is_refused_elsewhere() {
    shop(
        "refused",
        &[],
        &[
            "nest",
            "book",
            "--station",
            "walls",
            "--layouts",
            "3",
            "--show",
            "pieces",
            "--new-stock",
        ],
        r"exit 2
-- out
-- err
error: `--station` goes with `--for shop` only
error: `--layouts` goes with `--for shop` only
error: `--new-stock` goes with `--for shop` only
error: `--show pieces` goes with `--for shop` only
",
    );
}

#[test]
fn what_the_schedule_says_is_refused_for_a_shop() {
    shop(
        "refused_shop",
        &[],
        &["nest", "book", "--for", "shop", "--lot", "2", "--option", "solar", "--unit", "3"],
        r"exit 2
-- out
-- err
error: `--lot` does not go with `--for shop`: the schedule says how many units there are
error: `--option` and `--without` do not go with `--for shop`: the schedule names the options
error: `--unit` does not go with `--for shop`: the schedule numbers the units
",
    );
}

#[test]
fn an_extra_piece_goes_into_the_smallest_offcut_that_is_large_enough() {
    shop(
        "extra_offcuts",
        &[("book/stock.csv", "item,length,width,quantity,kind\nPANEL,30 in,16 in,1,on hand\n")],
        &["nest", "book", "--lot", "3", "--extra", "PANEL 14 x 15 x4", "--width", "120"],
        r"exit 0
-- out
book, on 2027-03-01, digest d8077c4cef0dab45

PANEL: extra pieces
extra, in     times  goes into                               at, in                        as layout  cost USD
──────────────────────────────────────────────────────────────────────────────────────────────────────────────
2 of 14 x 15      1  the offcut of layout 1                  (72-1/4, 0) (72-1/4, 15-1/8)          1    0.0000
2 of 14 x 15      1  offcut 30 x 16 in on hand, stock.csv:2  (0, 0) (14-1/8, 0)                    2    0.0000
──────────────────────────────────────────────────────────────────────────────────────────────────────────────
together                                                                                                0.0000

P: PANEL, kerf 1/8 in
layout  times  stock                pieces, in                                offcuts kept, in
───────────────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1      1  96 x 48 in           2 of 48 x 20, 3 of 24 x 12, 2 of 14 x 15  48 x 7-3/4, 24 x 11-5/8, 23-3/4 x 17-3/4,
                                                                              2 of 9-5/8 x 15
     2      1  30 x 16 in (offcut)  2 of 14 x 15

Layouts that are not named stay as they are.
-- err
",
    );
}

#[test]
fn an_extra_piece_that_fits_nowhere_takes_new_stock() {
    shop(
        "extra_new",
        &[],
        &["nest", "book", "--lot", "3", "--extra", "PANEL for WALL", "--cuts", "--width", "120"],
        r"exit 0
-- out
book, on 2027-03-01, digest f75b716d736cf372

PANEL: extra pieces
extra, in  times  goes into              at, in  as layout  cost USD
────────────────────────────────────────────────────────────────────
48 x 20        1  new stock, 96 x 48 in  (0, 0)          1   40.0000
────────────────────────────────────────────────────────────────────
together                                                     40.0000

P: PANEL, kerf 1/8 in
layout  times  stock       pieces, in  offcuts kept, in
───────────────────────────────────────────────────────────────
     1      1  96 x 48 in  48 x 20     96 x 27-7/8, 47-7/8 x 20

P: PANEL, kerf 1/8 in: cuts in order
layout  times  cut  stage  way       through  from      at, in  set, in  kerf    comes free, in
─────────────────────────────────────────────────────────────────────────────────────────────────────────────────────
     1      1    1  1      rip       sheet    top edge      20       20  behind  part 1, 96 x 20; offcut 96 x 27-7/8
     1      1    2  2      crosscut  part 1   left end      48       48  behind  piece 1, 48 x 20; offcut 47-7/8 x 20

Layouts that are not named stay as they are.
A rip runs along the length of the stock, a crosscut across it, each from edge to edge of the part it goes through.
  `at` is where the good edge lies in the drawing, `set` how far it is from the edge of what is left of the part. The
  saw takes its kerf behind that edge, or before it where it says so.
-- err
",
    );
}

#[test]
fn nothing_goes_into_layouts_that_are_cut() {
    shop(
        "extra_cut",
        &[],
        &[
            "nest",
            "book",
            "--lot",
            "3",
            "--extra",
            "PANEL 14 x 15",
            "--cut",
            "1",
            "--format",
            "csv",
        ],
        r#"exit 0
-- out
"extra, in",times,goes into,"at, in",as layout,cost USD
14 x 15,1,"new stock, 96 x 48 in","(0, 0)",1,40.0000
-- err
"#,
    );
}

#[test]
fn a_gap_too_small_to_be_kept_takes_an_extra_piece() {
    shop(
        "extra_gap",
        &[(
            "book/items.csv",
            "item,form,price,price_unit,weight,kerf,offcut_min,grain\nPANEL,sheet,40,each,40 lb/ft2,1/8 in,80 in,length\nRAIL,linear,8,each,1 lb/ft,1/8 in,80 in,\n",
        )],
        &["nest", "book", "--lot", "3", "--extra", "PANEL 20 x 7", "--format", "csv"],
        r#"exit 0
-- out
"extra, in",times,goes into,"at, in",as layout,cost USD
20 x 7,1,a gap of layout 1,"(0, 20-1/8)",1,0.0000
-- err
"#,
    );
}

#[test]
fn an_extra_piece_of_no_item_is_told() {
    shop(
        "extra_unknown",
        &[],
        &["nest", "book", "--extra", "PANL 3 x 4"],
        r"exit 2
-- out
-- err
error: no item named `PANL`
  hint: did you mean `PANEL`?
",
    );
}

#[test]
fn an_extra_piece_without_a_size_is_told() {
    shop(
        "extra_size",
        &[],
        &["nest", "book", "--extra", "PANEL 3"],
        r"exit 2
-- out
-- err
error: `--extra PANEL 3`: its size is not understood
  hint: write `ITEM LENGTH x WIDTH x3` or `ITEM for ASSEMBLY x3`; without `x3` it is one
",
    );
}

#[test]
fn an_extra_piece_needs_the_plan_it_is_of() {
    shop(
        "extra_which",
        &[
            ("book/plans.csv", "plan\nP\nQ\n"),
            (
                "book/bill.csv",
                "parent,component,quantity,length,width,use\nP,WALL,2,,,\nP,BOX,1,,,\nWALL,PANEL,1,48 in,20 in,piece\nBOX,PANEL,3,24 in,12 in,piece\nBOX,RAIL,2,30 in,,piece\nQ,BOX,1,,,\n",
            ),
        ],
        &["nest", "book", "--extra", "PANEL 3 x 4"],
        r"exit 2
-- out
-- err
error: `--extra`: `PANEL` is nested for P, Q
  hint: name one with `--plan`
",
    );
}

#[test]
fn a_layout_that_is_not_there_cannot_be_cut() {
    shop(
        "extra_layout",
        &[],
        &["nest", "book", "--extra", "PANEL 3 x 4", "--cut", "9"],
        r"exit 2
-- out
-- err
error: `--cut`: there is no layout 9; the item has 1
",
    );
}

#[test]
fn an_extra_piece_that_is_too_large_leaves_the_answer_incomplete() {
    shop(
        "extra_large",
        &[],
        &["nest", "book", "--extra", "PANEL 97 x 4", "--format", "csv"],
        r#"exit 1
-- out
"extra, in",times,goes into,"at, in",as layout,cost USD
-- err
gap: items.csv:2: 1 piece of `PANEL` cannot be cut: it fits no size
"#,
    );
}

#[test]
fn heights_of_books_are_checked() {
    shop(
        "heights",
        &[
            ("book/settings.csv", "key,value\nbook_height,0\n"),
            (
                "book/items.csv",
                "item,form,price,price_unit,weight,kerf,book_height,offcut_min,grain\nPANEL,sheet,40,each,40 lb/ft2,1/8 in,3 in,6 in,length\nRAIL,linear,8,each,1 lb/ft,1/8 in,2.5,6 in,\n",
            ),
        ],
        &["check", "book"],
        r"exit 2
-- out
-- err
error: settings.csv:2: column `value`: `0` is out of range (a whole number from 1 to 1000)
error: items.csv:2: column `book_height`: `3 in` is out of range (a number, since the item has no `thickness`)
error: items.csv:3: column `book_height`: `2.5` is out of range (a whole number from 1 to 1000)
",
    );
}

#[test]
fn a_height_is_no_weight() {
    shop(
        "heights_measure",
        &[("book/settings.csv", "key,value\nbook_height,3 lb\n")],
        &["check", "book"],
        r"exit 2
-- out
-- err
error: settings.csv:2: column `value`: `3 lb` is not a number of sheets, or length
",
    );
}

#[test]
fn offcuts_are_rows_of_the_next_stock() {
    let arguments = [
        "nest",
        "book",
        "--for",
        "shop",
        "--on",
        "2027-03-08",
        "--show",
        "offcuts",
        "--format",
        "csv",
    ];
    let (mut command, _) = cutbill("shop_stock", &BOOK, &arguments);
    let printed = String::from_utf8(command.output().unwrap().stdout).unwrap();
    assert!(printed.starts_with("item,length,width,quantity,kind,due,order,vendor,price\nPANEL,"));
    let files = changed_book(&[("book/stock.csv", &printed)]);
    let (mut command, _) = cutbill("shop_stock", &files, &["check", "book"]);
    let output = command.output().unwrap();
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    assert_eq!(output.status.code(), Some(0));
}

#[test]
fn json_tells_the_unit_of_every_placed_piece_and_the_cuts_of_every_layout() {
    let arguments = ["nest", "book", "--for", "shop", "--on", "2027-03-08", "--format", "json"];
    let output = cutbill("shop_json", &BOOK, &arguments).0.output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(answer["schema"], "cutbill.nest_shop/1");
    assert_eq!(answer["day"], "2027-03-08");
    let item = &answer["stations"][0]["items"][0];
    let units: Vec<&str> = item["placed"]
        .as_array()
        .unwrap()
        .iter()
        .map(|placed| placed["unit"].as_str().unwrap())
        .collect();
    assert_eq!(units, ["#101", "#101", "#102", "#102", "#103", "#103"]);
    assert_eq!(item["nest"]["set_ups"], 2);
    let layout = &item["nest"]["layouts"][0];
    assert_eq!((&layout["repeat"], &layout["set_ups"]), (&3.into(), &2.into()));
    let cut = &layout["cuts"][0];
    assert_eq!(
        (&cut["stage"], &cut["direction"], &cut["from"]),
        (&1.into(), &"across".into(), &"left end".into())
    );
    assert_eq!(cut["at"]["value"], "48");
}
