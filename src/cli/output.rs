//! Writes answers: to standard output, or to a file that comes to be whole or not at all.

use std::fs::{self, File, OpenOptions};
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
    sweep(&target);
    let draft = Draft::new(&target)?;
    draft.fill(bytes)?;
    if let Some(old) = old {
        fs::set_permissions(&draft.path, old.permissions())?;
    }
    fs::rename(&draft.path, &target)
}

/// Writes files into a folder, all of them or none: they are made in a folder of their own, which then gets its name. A
/// folder that is there must be empty; it may be one that somebody stands in, so the files are moved into it one by one.
/// A name may hold folders, parted by `/`.
pub(super) fn save_folder(folder: &Path, files: &[(String, Vec<u8>)]) -> io::Result<()> {
    let is_there = match fs::read_dir(folder) {
        Ok(mut entries) => {
            if entries.next().is_some() {
                return Err(io::ErrorKind::DirectoryNotEmpty.into());
            }
            true
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => false,
        Err(error) => return Err(error),
    };
    let draft = if is_there {
        folder.join(format!(".{}.part", process::id()))
    } else {
        named_draft(folder, 0)?
    };
    fs::create_dir(&draft)?;
    let written = files.iter().try_for_each(|(name, bytes)| {
        let path = draft.join(name);
        fs::create_dir_all(path.parent().ok_or(io::ErrorKind::InvalidInput)?)?;
        let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    });
    let moved = written.and_then(|()| {
        if !is_there {
            return fs::rename(&draft, folder);
        }
        // What stands right in the folder is moved, files and folders alike.
        let mut names: Vec<&str> =
            files.iter().filter_map(|(name, _)| name.split('/').next()).collect();
        names.dedup();
        for (position, name) in names.iter().enumerate() {
            if let Err(error) = fs::rename(draft.join(name), folder.join(name)) {
                for name in &names[..position] {
                    let path = folder.join(name);
                    let _ = if path.is_dir() {
                        fs::remove_dir_all(path)
                    } else {
                        fs::remove_file(path)
                    };
                }
                return Err(error);
            }
        }
        Ok(())
    });
    if moved.is_err() || is_there {
        // The first error is the one to tell.
        let _ = fs::remove_dir_all(&draft);
    }
    moved
}

/// A file being made beside its place. It is locked as long as its process lives, and gone when it is dropped, unless it
/// was moved to its place.
struct Draft {
    path: PathBuf,
    file: File,
}

impl Draft {
    fn new(target: &Path) -> io::Result<Draft> {
        for number in 0.. {
            let path = named_draft(target, number)?;
            match OpenOptions::new().write(true).create_new(true).open(&path) {
                Ok(file) => {
                    // Where files cannot be locked, drafts that are left stay there.
                    let _ = file.lock();
                    // Another process may have taken it for one that is left, before it was locked.
                    if fs::exists(&path)? {
                        return Ok(Draft { path, file });
                    }
                }
                // One is left of an ended process whose number came around again, or of another machine.
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists && number < 100 => {}
                Err(error) => return Err(error),
            }
        }
        Err(io::ErrorKind::AlreadyExists.into())
    }

    fn fill(&self, bytes: &[u8]) -> io::Result<()> {
        (&self.file).write_all(bytes)?;
        self.file.sync_all()
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // Once it was moved, there is none of this name. An error that brought it here is told by who met it.
        let _ = fs::remove_file(&self.path);
    }
}

/// Removes drafts of a file that processes left when they were killed: nobody holds their locks.
fn sweep(target: &Path) {
    let (Some(folder), Some(name)) = (target.parent(), target.file_name()) else { return };
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let lead = format!(".{}.", name.to_string_lossy());
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let middle = name.strip_prefix(&lead).and_then(|rest| rest.strip_suffix(".part"));
        let is_draft = middle.is_some_and(|middle| {
            !middle.is_empty() && middle.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
        });
        if !is_draft || !entry.file_type().is_ok_and(|kind| kind.is_file()) {
            continue;
        }
        let Ok(file) = OpenOptions::new().write(true).open(entry.path()) else { continue };
        if file.try_lock().is_ok() {
            let _ = fs::remove_file(entry.path());
        }
    }
}

fn feed(sink: &mut dyn Write, bytes: &[u8]) -> io::Result<()> {
    match sink.write_all(bytes).and_then(|()| sink.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        result => result,
    }
}

/// Returns the name of a draft: hidden, beside its place, by the process and a number.
fn named_draft(target: &Path, number: u32) -> io::Result<PathBuf> {
    let name = target.file_name().ok_or(io::ErrorKind::InvalidInput)?;
    let mut draft = std::ffi::OsString::from(".");
    draft.push(name);
    draft.push(format!(".{}.{number}.part", process::id()));
    Ok(target.with_file_name(draft))
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
    fn drafts_that_are_left_are_swept_and_those_in_use_are_not() {
        let scratch = Scratch::new();
        let target = scratch.path().join("cost.csv");
        scratch.write(".cost.csv.17.0.part", "left");
        scratch.write(".cost.csv.notes.part", "not ours");
        let held = Draft::new(&target).unwrap();
        save(&target, b"new").unwrap();
        let mine = held.path.file_name().unwrap().to_str().unwrap().to_owned();
        assert_eq!(scratch.names(), [mine.as_str(), ".cost.csv.notes.part", "cost.csv"]);
        drop(held);
        assert_eq!(scratch.names(), [".cost.csv.notes.part", "cost.csv"]);
    }

    #[test]
    fn a_folder_comes_to_be_whole_or_not_at_all() {
        let scratch = Scratch::new();
        let files = ["a.csv", "b.csv", "c/d.csv", "c/e.csv"]
            .map(|name| (name.to_owned(), name.as_bytes().to_vec()));
        save_folder(&scratch.path().join("new"), &files).unwrap();
        fs::create_dir(scratch.path().join("empty")).unwrap();
        save_folder(&scratch.path().join("empty"), &files).unwrap();
        for folder in ["new", "empty"] {
            for (name, _) in &files {
                assert_eq!(scratch.read(&format!("{folder}/{name}")), *name);
            }
        }
        let error = save_folder(&scratch.path().join("new"), &files).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::DirectoryNotEmpty);
        // A file cannot be a folder as well.
        let wrong = [files[0].clone(), ("a.csv/b.csv".to_owned(), b"b".to_vec())];
        fs::create_dir(scratch.path().join("still empty")).unwrap();
        for folder in ["none", "still empty"] {
            let error = save_folder(&scratch.path().join(folder), &wrong).unwrap_err();
            assert_ne!(error.kind(), io::ErrorKind::DirectoryNotEmpty);
        }
        assert_eq!(scratch.names(), ["empty", "new", "still empty"]);
        assert_eq!(fs::read_dir(scratch.path().join("still empty")).unwrap().count(), 0);
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
