//! The subcommand `init`: writes the starter book.

use std::fs;
use std::io;
use std::path::Path;

use cutbill::diag::{Checked, Diagnostic, Place, Problem};

use crate::cli::arguments::Init;
use crate::cli::{Answer, disk, output};

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
    let parent = folder.parent().filter(|parent| !parent.as_os_str().is_empty());
    if let Some(parent) = parent {
        fs::create_dir_all(parent).map_err(|error| {
            failed(parent, format!("cannot be made: {}", disk::in_words(&error)))
        })?;
    }
    let files: Vec<(String, Vec<u8>)> = FILES
        .iter()
        .map(|(name, content)| ((*name).to_owned(), content.as_bytes().to_vec()))
        .collect();
    output::save_folder(folder, &files).map_err(|error| match error.kind() {
        io::ErrorKind::DirectoryNotEmpty => {
            failed(folder, "the folder is not empty; nothing is written".to_owned())
        }
        _ => failed(folder, format!("cannot be written: {}", disk::in_words(&error))),
    })?;
    let mut text = format!("wrote to `{shown}`:\n");
    for (name, _) in FILES {
        text.push_str(&format!("  {name}\n"));
    }
    text.push_str(&format!("\nnext: cutbill price {shown}\n"));
    Ok(Checked { value: text.into_bytes(), warnings: Vec::new() })
}
