//! Writes answers: to standard output, or to a file that comes to be whole or not at all.

use std::fs::{self, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process;

/// Writes to standard output. A reader that has seen enough and went away is no error.
pub(super) fn print(bytes: &[u8]) -> io::Result<()> {
    feed(&mut io::stdout().lock(), bytes)
}

/// Writes a file. It is made beside its place and then moved there, so that no one finds half of it, and an old file
/// stays as it was if anything goes wrong.
pub(super) fn save(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let old = match fs::metadata(file) {
        Ok(metadata) if metadata.is_dir() => return Err(io::ErrorKind::IsADirectory.into()),
        // A pipe or a device takes what it is given; there is nothing to be moved onto it.
        Ok(metadata) if !metadata.is_file() => {
            return feed(&mut OpenOptions::new().write(true).open(file)?, bytes);
        }
        Ok(metadata) => Some(metadata),
        Err(error) if error.kind() == io::ErrorKind::NotFound => None,
        Err(error) => return Err(error),
    };
    // A link stays a link; what it leads to is replaced.
    let target = if old.is_some() { fs::canonicalize(file)? } else { file.to_owned() };
    let draft = draft_of(&target)?;
    let written = write_whole(&draft, bytes).and_then(|()| {
        if let Some(old) = old {
            fs::set_permissions(&draft, old.permissions())?;
        }
        fs::rename(&draft, &target)
    });
    if written.is_err() {
        // The first error is the one to tell; a draft that cannot be removed changes nothing about it.
        let _ = fs::remove_file(&draft);
    }
    written
}

/// Writes files into a new folder, all of them or none: they are made in a folder beside it, which then gets its name.
/// The folder must not be there yet, or be empty.
pub(super) fn save_folder(folder: &Path, files: &[(String, Vec<u8>)]) -> io::Result<()> {
    match fs::read_dir(folder) {
        Ok(mut entries) => {
            if entries.next().is_some() {
                return Err(io::ErrorKind::DirectoryNotEmpty.into());
            }
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Err(error) => return Err(error),
    }
    let draft = draft_of(folder)?;
    fs::create_dir(&draft)?;
    let written = files
        .iter()
        .try_for_each(|(name, bytes)| write_whole(&draft.join(name), bytes))
        .and_then(|()| fs::rename(&draft, folder));
    if written.is_err() {
        // The first error is the one to tell.
        let _ = fs::remove_dir_all(&draft);
    }
    written
}

fn feed(sink: &mut dyn Write, bytes: &[u8]) -> io::Result<()> {
    match sink.write_all(bytes).and_then(|()| sink.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        result => result,
    }
}

fn draft_of(target: &Path) -> io::Result<PathBuf> {
    let name = target.file_name().ok_or(io::ErrorKind::InvalidInput)?;
    let mut draft = std::ffi::OsString::from(".");
    draft.push(name);
    draft.push(format!(".{}.part", process::id()));
    Ok(target.with_file_name(draft))
}

fn write_whole(file: &Path, bytes: &[u8]) -> io::Result<()> {
    // A draft of this name is left from a process that was ended, whose number came around again.
    let mut file = OpenOptions::new().write(true).create(true).truncate(true).open(file)?;
    file.write_all(bytes)?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::scratch::Scratch;

    struct Broken(io::ErrorKind);

    impl Write for Broken {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(self.0.into())
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_closed_pipe_is_no_error_but_a_full_disk_is() {
        assert!(feed(&mut Broken(io::ErrorKind::BrokenPipe), b"text").is_ok());
        let error = feed(&mut Broken(io::ErrorKind::StorageFull), b"text").unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::StorageFull);
    }

    #[test]
    fn a_file_is_made_or_replaced_and_nothing_is_left_beside_it() {
        let scratch = Scratch::new();
        let file = scratch.path().join("cost.csv");
        save(&file, b"first, and longer").unwrap();
        assert_eq!(scratch.read("cost.csv"), "first, and longer");
        save(&file, b"second").unwrap();
        assert_eq!(scratch.read("cost.csv"), "second");
        assert_eq!(scratch.names(), ["cost.csv"]);
    }

    #[test]
    fn a_file_that_cannot_be_written_leaves_nothing() {
        let scratch = Scratch::new();
        scratch.write("folder/old.csv", "old");
        let error = save(&scratch.path().join("folder"), b"new").unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::IsADirectory);
        let error = save(&scratch.path().join("none/cost.csv"), b"new").unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::NotFound);
        assert_eq!(scratch.names(), ["folder"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_and_the_file_behind_it_keeps_its_permissions() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let scratch = Scratch::new();
        scratch.write("real.csv", "old");
        let real = scratch.path().join("real.csv");
        fs::set_permissions(&real, fs::Permissions::from_mode(0o640)).unwrap();
        symlink("real.csv", scratch.path().join("link.csv")).unwrap();
        save(&scratch.path().join("link.csv"), b"new").unwrap();
        assert_eq!(scratch.read("real.csv"), "new");
        assert!(fs::symlink_metadata(scratch.path().join("link.csv")).unwrap().is_symlink());
        assert_eq!(fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_to_and_not_replaced() {
        use std::os::unix::fs::FileTypeExt;
        save(Path::new("/dev/null"), b"gone").unwrap();
        assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
    }
}
