//! A folder for one test, gone when the test ends.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::{env, fs, process};

pub(super) struct Scratch(PathBuf);

impl Scratch {
    pub(super) fn new() -> Scratch {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = env::temp_dir().join(format!("cutbill-{}-{number}", process::id()));
        // One that is left from an ended process whose number came around again is emptied.
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir(&folder).unwrap();
        Scratch(folder)
    }

    pub(super) fn path(&self) -> &Path {
        &self.0
    }

    /// Writes a file, with the folders above it.
    pub(super) fn write(&self, name: &str, text: &str) {
        let file = self.0.join(name);
        fs::create_dir_all(file.parent().unwrap()).unwrap();
        #[expect(clippy::disallowed_methods, reason = "a test makes its own files")]
        fs::write(file, text).unwrap();
    }

    pub(super) fn read(&self, name: &str) -> String {
        #[expect(clippy::disallowed_methods, reason = "a test reads its own files")]
        fs::read_to_string(self.0.join(name)).unwrap()
    }

    /// Returns the names of all files and folders right in the folder, sorted.
    pub(super) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}
