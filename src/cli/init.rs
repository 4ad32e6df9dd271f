//! The subcommand `init`: writes the starter book.

use std::fs;
use std::io::Write;
use std::path::Path;

use cutbill::diag::{Checked, Diagnostic, Place, Problem};

use crate::cli::arguments::Init;
use crate::cli::{Answer, disk};

/// The files of the starter book, which is a sample as well.
const FILES: &[(&str, &str)] = &[
    ("settings.csv", include_str!("../../samples/starter/settings.csv")),
    ("plans.csv", include_str!("../../samples/starter/plans.csv")),
    ("options.csv", include_str!("../../samples/starter/options.csv")),
    ("assemblies.csv", include_str!("../../samples/starter/assemblies.csv")),
    ("bill.csv", include_str!("../../samples/starter/bill.csv")),
    ("items.csv", include_str!("../../samples/starter/items.csv")),
    ("sizes.csv", include_str!("../../samples/starter/sizes.csv")),
    ("burdens.csv", include_str!("../../samples/starter/burdens.csv")),
    ("cases.csv", include_str!("../../samples/starter/cases.csv")),
];

/// Writes the starter book into a folder that is not there or empty.
pub(super) fn init(arguments: &Init) -> Result<Answer, Vec<Diagnostic>> {
    let folder = &arguments.folder;
    let shown = folder.display().to_string();
    let failed = |file: &Path, text: String| {
        let place = Place { file: file.display().to_string(), ..Place::default() };
        vec![Diagnostic::error(place, Problem::Plain { text })]
    };
    match fs::read_dir(folder) {
        Ok(mut entries) => {
            if entries.next().is_some() {
                let text = "the folder is not empty; nothing is written".to_owned();
                return Err(failed(folder, text));
            }
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            fs::create_dir_all(folder).map_err(|error| {
                failed(folder, format!("cannot be made: {}", disk::in_words(&error)))
            })?;
        }
        Err(error) => {
            return Err(failed(folder, format!("cannot be read: {}", disk::in_words(&error))));
        }
    }
    let mut text = format!("wrote to `{shown}`:\n");
    for (name, content) in FILES {
        let file = folder.join(name);
        // What has come to be there meanwhile is not replaced.
        let written =
            fs::File::create_new(&file).and_then(|mut file| file.write_all(content.as_bytes()));
        written.map_err(|error| {
            failed(&file, format!("cannot be written: {}", disk::in_words(&error)))
        })?;
        text.push_str(&format!("  {name}\n"));
    }
    text.push_str(&format!("\nnext: cutbill price {shown}\n"));
    Ok(Checked { value: text.into_bytes(), warnings: Vec::new() })
}
