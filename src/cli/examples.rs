//! What the help of each subcommand ends with. Every example works on the sample books, where these lie in a folder
//! `samples`; a test runs each of them.

pub(super) const CHECK: &str = "\
Examples:
  cutbill check samples/fenmark
  cutbill check samples/fenmark.xlsx
  cutbill check samples/messy --format json";

pub(super) const EXPLODE: &str = "\
Examples:
  cutbill explode samples/fenmark --plan \"Sedge 18\"
  cutbill explode samples/fenmark --flat -o needs.csv
  cutbill explode samples/fenmark --where-used PLY-19-32-TG";

pub(super) const NEST: &str = "\
Examples:
  cutbill nest samples/starter --plan \"Model 16\" --draw
  cutbill nest samples/starter --lot 10
  cutbill nest samples/starter --plan \"Model 22\" -o layouts.html";

pub(super) const ROLLUP: &str = "\
Examples:
  cutbill rollup samples/fenmark --by plan,kind
  cutbill rollup samples/fenmark --plan \"Carex 24\" --by assembly,item --why slide_floor,PLY-19-32-TG
  cutbill rollup samples/fenmark --lot 1 -o cost.xlsx
  cutbill rollup samples/fenmark --lot 1 --dataset ledger";

pub(super) const ORDERS: &str = "\
Examples:
  cutbill orders samples/starter
  cutbill orders samples/starter --per-vendor vendors
  cutbill orders samples/fenmark --weeks 2 --effort 1 --why PLY-19-32-TG";

pub(super) const PRICE: &str = "\
Examples:
  cutbill price samples/starter --plan \"Model 16\"
  cutbill price samples/starter --lots 1,5,20
  cutbill price samples/starter --price \"group = lumber=+12 %\"";

pub(super) const LOADS: &str = "\
Examples:
  cutbill loads samples/fenmark --plan \"Carex 24\"
  cutbill loads samples/fenmark --plan \"Carex 24\" --cargo \"120 lb@20 ft,-30 in\"
  cutbill loads samples/fenmark --options -o loads.xlsx";

pub(super) const INIT: &str = "\
Examples:
  cutbill init book
  cutbill init books/next-year";

pub(super) const SWAP: &str = "\
Examples:
  cutbill swap samples/fenmark --plan \"Carex 24\"
  cutbill swap samples/fenmark --plan \"Carex 24\" --save \"100 lb\"
  cutbill swap samples/starter --plan \"Model 16\" --swap \"COUNTER-LAMINATE=COUNTER-SOLID\"";

pub(super) const COMPARE: &str = "\
Examples:
  cutbill compare samples/fenmark --plan \"Carex 24\" --option winter_pack
  cutbill compare samples/fenmark --plan \"Sedge 18\" --from-date 2027-03-01 --to-date 2027-06-01
  cutbill compare samples/fenmark samples/messy --lot 1";

pub(super) const REPORT: &str = "\
Examples:
  cutbill report samples/starter -o report.html
  cutbill report samples/starter --plan \"Model 22\" --one-layout-a-page -o pages.html
  cutbill report samples/starter -o report.xlsx";

pub(super) const COMPLETIONS: &str = "\
Put the script where the shell looks for it, such as
~/.local/share/bash-completion/completions/cutbill, ~/.config/fish/completions/cutbill.fish, or
for zsh a file `_cutbill` in a folder of $fpath.

Examples:
  cutbill completions bash
  cutbill completions zsh";

pub(super) const MAN: &str = "\
`man` looks for pages in ~/.local/share/man/man1.

Examples:
  cutbill man pages
  cutbill man man1";
