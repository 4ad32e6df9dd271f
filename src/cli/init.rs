//! The subcommand `init`: writes the starter book, and leads on to the first answers.

use std::fs;
use std::io;
use std::path::Path;

use cutbill::diag::{Checked, Diagnostic, Place, Problem};

use crate::cli::arguments::Init;
use crate::cli::{Answer, disk, output};

/// A file of the starter book, which is a sample as well.
struct File {
    name: &'static str,
    holds: &'static str,
    content: &'static str,
}

macro_rules! starter {
    ($name:literal, $holds:literal) => {
        File {
            name: $name,
            holds: $holds,
            content: include_str!(concat!("../../samples/starter/", $name)),
        }
    };
}

const FILES: [File; 12] = [
    starter!("plans.csv", "a row for each floor plan: its sizes, windows, slide boxes, axles"),
    starter!("items.csv", "what is bought: form, price, weight, vendor; and what an hour costs"),
    starter!("sizes.csv", "the sheets, rolls and sticks that items come in, with their prices"),
    starter!("bill.csv", "what each assembly takes, by formulas over the sizes of the plan"),
    starter!("assemblies.csv", "what each assembly is, and the station that builds it"),
    starter!("options.csv", "what a buyer may choose"),
    starter!("burdens.csv", "overhead, freight, set-up and reserves, laid on in order"),
    starter!("schedule.csv", "what is to be built, and by when"),
    starter!("stock.csv", "what is on hand and on order"),
    starter!("vendors.csv", "from whom, and how many days that takes"),
    starter!("cases.csv", "other prices to try"),
    starter!("settings.csv", "currency, units, rounding, and the day the book speaks of"),
];

/// Writes the starter book into a folder that is not there or empty.
pub(super) fn init(arguments: &Init) -> Result<Answer, Vec<Diagnostic>> {
    let folder = &arguments.folder;
    let failed = |file: &Path, text: String| {
        let place = Place { file: file.display().to_string(), ..Place::default() };
        vec![Diagnostic::error(place, Problem::Plain { text })]
    };
    let parent = folder.parent().filter(|parent| !parent.as_os_str().is_empty());
    if let Some(parent) = parent {
        fs::create_dir_all(parent).map_err(|error| {
            failed(parent, format!("cannot be made: {}", disk::in_words(&error)))
        })?;
    }
    let files: Vec<(String, Vec<u8>)> =
        FILES.iter().map(|file| (file.name.to_owned(), file.content.as_bytes().to_vec())).collect();
    output::save_folder(folder, &files).map_err(|error| match error.kind() {
        io::ErrorKind::DirectoryNotEmpty => {
            failed(folder, "the folder is not empty; nothing is written".to_owned())
        }
        _ => failed(folder, format!("cannot be written: {}", disk::in_words(&error))),
    })?;
    Ok(Checked { value: guide(folder).into_bytes(), warnings: Vec::new() })
}

/// Tells what was written, what to change first, and which answers to ask for.
fn guide(folder: &Path) -> String {
    let book = folder.display().to_string();
    let is_plain = |letter: char| letter.is_alphanumeric() || "-_./\\:".contains(letter);
    let book = if book.chars().all(is_plain) { book } else { format!("\"{book}\"") };
    let width = FILES.iter().map(|file| file.name.len()).max().unwrap_or(0);
    let files: Vec<String> =
        FILES.iter().map(|file| format!("  {:width$}  {}\n", file.name, file.holds)).collect();
    let files = files.concat();
    format!(
        "\
A starter book is written to {book}: two plans that have an answer to every question, so that you
can change one thing at a time and see what comes of it. Each file is a table, to be opened in a
spreadsheet or an editor.

{files}
Begin with plans.csv: give a row the name and the sizes of a plan of yours. Then replace prices and
weights in items.csv and sizes.csv; all of them are made up, and marked as assumed until you clear
the mark.

Ask in this order:
  cutbill check {book}
      Is anything wrong in the tables, and where? What does the book hold?
  cutbill rollup {book}
      What does each plan cost and weigh, and what does it take from stock?
  cutbill orders {book}
      What must be bought for the builds of schedule.csv, from whom, by when? What runs short?

Then `cutbill nest {book} --draw` shows how stock is cut, `cutbill price {book}` what to charge, and
`cutbill report {book} -o report.html` all of it in one document.
"
    )
}
