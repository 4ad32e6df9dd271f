//! Parquet: the ledger with its decimal columns, in one file or as a dataset with a folder for each plan.

use polars::prelude::{
    Column, DataFrame, IntoColumn, NamedFrom, ParquetWriter, PolarsError, Series,
};
use rayon::prelude::{IntoParallelRefIterator, ParallelIterator};

use crate::explode::Build;
use crate::explode::Needs;
use crate::model::Book;
use crate::rollup::BuildCost;
use crate::rollup::Key;
use crate::rollup::Ledger;
use crate::rollup::LedgerLayout;
use crate::rollup::Rollup;

/// Rows of a row group, about; engines read a group at once.
const GROUP_ROWS: usize = 200_000;

/// Returns the ledger as a Parquet file.
///
/// # Errors
/// A failure of the table engine, which a valid ledger does not meet.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::watch::Silent;
/// use cutbill::render::parquet;
/// use cutbill::rollup::{self, Key};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rolled = rollup::rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// let ledger = rollup::ledger(&book, &needs, &rolled, &[Key::Plan, Key::Item]).unwrap();
/// let file = parquet::parquet(&ledger).unwrap();
/// assert_eq!(file[..4], *b"PAR1");
/// ```
pub fn parquet(ledger: &Ledger) -> Result<Vec<u8>, PolarsError> {
    file(ledger.frame.clone())
}

/// Returns the ledger as the files of a dataset that is partitioned by plan, in the order of the builds: names such as
/// `plan=Sedge 18/part-0.parquet`, and bytes.
///
/// As engines expect it of such a dataset, the plan stands in the name of its folder and not in the file. Signs that a
/// file system or an engine would take for something else are written as `%2F`, of their bytes. Each file has the
/// columns of the other keys, the amounts, and then what must not be mixed when the datasets of many books are summed:
/// `book_revision`, `book_day` (empty where the book says none), `book_digest`, `book_currency`, `book_weight_unit`,
/// `book_options` (names parted by `; `) and `book_lot`, the units that the amounts are of.
///
/// # Errors
/// A failure of the table engine, such as a column of the user's own that is named as one of these.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::watch::Silent;
/// use cutbill::render::parquet;
/// use cutbill::rollup::{self, Key};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\nHalf/half\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\nHalf/half,BOLT,2\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rolled = rollup::rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// let files = parquet::dataset(&book, &needs, &rolled, &[Key::Plan, Key::Item]).unwrap();
/// let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
/// assert_eq!(names, ["plan=Sedge/part-0.parquet", "plan=Half%2Fhalf/part-0.parquet"]);
/// ```
pub fn dataset(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    keys: &[Key],
) -> Result<Vec<(String, Vec<u8>)>, PolarsError> {
    let keys: Vec<Key> = keys.iter().filter(|key| **key != Key::Plan).cloned().collect();
    let mut files = Vec::with_capacity(rollup.builds.len());
    let layout = LedgerLayout::new(book, needs, rollup.cost_digits, &keys);
    let laid_out = |cost: &BuildCost| {
        let build = &needs.builds[cost.build];
        let mut frame = layout.of(std::slice::from_ref(cost))?.frame;
        frame.hstack_mut(&origin(book, needs, build, rollup.lot, frame.height()))?;
        let plan = folder_name(&book.plans[build.plan.index()].name);
        Ok((format!("plan={plan}/part-0.parquet"), frame))
    };
    each_build(rollup, laid_out, |(name, frame)| {
        files.push((name, file(frame)?));
        Ok(())
    })?;
    Ok(files)
}

/// Returns the ledger of a roll-up as a Parquet file, laid out build by build, so that no more than a few are held at once.
///
/// # Errors
/// A failure of the table engine, which a valid roll-up does not meet.
///
/// # Example
/// ```
/// # use cutbill::explode::{self, explode};
/// # use cutbill::read::{Memory, read};
/// # use cutbill::watch::Silent;
/// use cutbill::render::parquet;
/// use cutbill::rollup::{self, Key};
///
/// # let files = Memory::from_iter([
/// #     ("plans.csv", "plan\nSedge\n"),
/// #     ("bill.csv", "parent,component,quantity\nSedge,BOLT,4\n"),
/// #     ("items.csv", "item,form,price,weight\nBOLT,count,0.25,0.1 lb\n"),
/// # ]);
/// # let book = read(&files).unwrap().value;
/// # let needs = explode(&book, &explode::Options::default()).unwrap().value;
/// # let rolled = rollup::rollup(&book, &needs, rollup::Options::default(), &Silent).unwrap().value;
/// let file = parquet::build_by_build(&book, &needs, &rolled, &[Key::Plan, Key::Line]).unwrap();
/// assert_eq!(file[..4], *b"PAR1");
/// ```
pub fn build_by_build(
    book: &Book,
    needs: &Needs,
    rollup: &Rollup,
    keys: &[Key],
) -> Result<Vec<u8>, PolarsError> {
    let layout = LedgerLayout::new(book, needs, rollup.cost_digits, keys);
    let mut bytes = Vec::new();
    let empty = layout.of(&[])?.frame;
    let mut writer = ParquetWriter::new(&mut bytes).batched(empty.schema())?;
    let mut group = empty.clone();
    each_build(
        rollup,
        |cost| Ok(layout.of(std::slice::from_ref(cost))?.frame),
        |frame| {
            group.vstack_mut(&frame)?;
            if group.height() >= GROUP_ROWS {
                let mut whole = std::mem::replace(&mut group, empty.clone());
                writer.write_batch(whole.rechunk_mut())?;
            }
            Ok(())
        },
    )?;
    writer.write_batch(group.rechunk_mut())?;
    writer.finish()?;
    drop(writer);
    Ok(bytes)
}

/// Lays out builds on all cores and takes them in order.
fn each_build<T: Send>(
    rollup: &Rollup,
    laid_out: impl Fn(&BuildCost) -> Result<T, PolarsError> + Sync,
    mut take: impl FnMut(T) -> Result<(), PolarsError>,
) -> Result<(), PolarsError> {
    // Only a few tables are held at a time. They are not written in the parallel part: a thread that waits for the
    // table engine's own threads would begin another plan meanwhile, and another below that.
    for costs in rollup.builds.chunks(rayon::current_num_threads()) {
        let frames: Result<Vec<T>, PolarsError> = costs.par_iter().map(&laid_out).collect();
        for frame in frames? {
            take(frame)?;
        }
    }
    Ok(())
}

fn file(mut frame: DataFrame) -> Result<Vec<u8>, PolarsError> {
    let mut bytes = Vec::new();
    ParquetWriter::new(&mut bytes).finish(&mut frame)?;
    Ok(bytes)
}

/// Returns the columns that say what the amounts of a build are of.
fn origin(book: &Book, needs: &Needs, build: &Build, lot: u32, height: usize) -> Vec<Column> {
    let day = needs.on.map(|day| day.to_string()).unwrap_or_default();
    let options: Vec<&str> =
        build.options.iter().map(|option| book.options[option.index()].name.as_str()).collect();
    let texts = [
        ("book_revision", book.settings.revision.clone()),
        ("book_day", day),
        ("book_digest", book.digest.clone()),
        ("book_currency", book.settings.currency.clone()),
        ("book_weight_unit", book.settings.weight_unit.name.clone()),
        ("book_options", options.join("; ")),
    ];
    let texts = texts.iter().map(|(name, text)| Series::new((*name).into(), vec![&**text; height]));
    let lot = Series::new("book_lot".into(), vec![i64::from(lot); height]);
    texts.chain([lot]).map(IntoColumn::into_column).collect()
}

/// Returns a name so that it can be that of a folder on any file system, as one partition of a dataset.
fn folder_name(name: &str) -> String {
    let mut written = String::new();
    for (position, letter) in name.char_indices() {
        let is_last = position + letter.len_utf8() == name.len();
        let is_special = letter.is_control() || "\"#%'*/:<=>?[\\]^{|}".contains(letter);
        // A name that ends in these loses its end on some systems.
        if is_special || (is_last && ". ".contains(letter)) {
            let mut bytes = [0; 4];
            for byte in letter.encode_utf8(&mut bytes).bytes() {
                written.push_str(&format!("%{byte:02X}"));
            }
        } else {
            written.push(letter);
        }
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_folders_hold_nothing_that_means_something_else() {
        for (name, expected) in [
            ("Sedge 18", "Sedge 18"),
            ("a/b=c", "a%2Fb%3Dc"),
            ("100%", "100%25"),
            ("24' 6\"", "24%27 6%22"),
            ("Größe, lang", "Größe, lang"),
            ("a\u{85}b", "a%C2%85b"),
            ("v. 2.", "v. 2%2E"),
            ("..", ".%2E"),
        ] {
            assert_eq!(folder_name(name), expected);
        }
    }
}
