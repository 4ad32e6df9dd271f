//! The subcommands `completions` and `man`: what a shell and `man` need to know of the command line. Both are made from the
//! arguments that the command line is parsed by, so they cannot fall behind it.

use std::iter;

use clap::CommandFactory;
use cutbill::diag::{Checked, Diagnostic};

use crate::cli::arguments::{Arguments, Completions, Man};
use crate::cli::{Answer, new_folder};

/// Returns the script that completes commands in a shell.
pub(super) fn completions(arguments: &Completions) -> Answer {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut Arguments::command(), "cutbill", &mut script);
    Checked { value: script, warnings: Vec::new() }
}

/// Writes the manual into a new folder: a page about the whole and one for each subcommand.
pub(super) fn man(arguments: &Man) -> Result<Answer, Vec<Diagnostic>> {
    let mut command = Arguments::command();
    // Only then do subcommands know the name of their page, `cutbill-check`.
    command.build();
    let subcommands = command.get_subcommands().cloned();
    let pages: Vec<_> = iter::once(command.clone()).chain(subcommands).map(page).collect();
    Ok(Checked { value: new_folder(&arguments.folder, &pages)?, warnings: Vec::new() })
}

/// Returns a page of the manual, under the name of its file.
fn page(command: clap::Command) -> (String, Vec<u8>) {
    let source = concat!("cutbill ", env!("CARGO_PKG_VERSION"));
    let page = clap_mangen::Man::new(command).source(source);
    let mut text = Vec::new();
    page.render(&mut text).expect("memory takes all that is written to it");
    (page.get_filename(), text)
}
