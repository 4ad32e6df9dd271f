//! What becomes of output when something goes wrong around the program: killed, no space, no right to write, nobody reading,
//! two at once. A file is there whole or not at all, and nothing else is left.

#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "what cannot be had ends the test")]
#![expect(clippy::disallowed_methods, reason = "a test makes and reads its own files")]

use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::{fs, thread};

/// A book that takes little time and has a long answer.
const BOOK: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/starter");

/// Returns an empty folder for one test.
fn folder(test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("faults").join(test);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn cutbill(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_cutbill"));
    command.args(arguments).current_dir(folder).env_remove("COLUMNS").stdin(Stdio::null());
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Returns the program under limits of the shell, such as `ulimit -f 0`.
fn limited(folder: &Path, limits: &str, arguments: &[&str]) -> Output {
    let script = format!("{limits}; exec \"$0\" \"$@\"");
    let mut command = Command::new("sh");
    command.args(["-c", &script, env!("CARGO_BIN_EXE_cutbill")]).args(arguments);
    command.current_dir(folder).env_remove("COLUMNS").stdin(Stdio::null());
    command.output().unwrap()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

/// Returns the exit code and what is said, notes apart.
fn told(output: &Output) -> (Option<i32>, String) {
    let text = String::from_utf8(output.stderr.clone()).unwrap();
    let lines = text.lines().filter(|line| !line.starts_with("note: "));
    (output.status.code(), lines.map(|line| format!("{line}\n")).collect::<Vec<String>>().concat())
}

/// Returns the answer of an explosion as CSV, as it is written without any fault.
fn whole_answer(test: &Path) -> Vec<u8> {
    let output = cutbill(test, &["explode", BOOK, "--format", "csv"]).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stdout.len() > 1000);
    output.stdout
}

#[test]
fn a_run_that_is_killed_leaves_the_old_file_or_the_whole_new_one() {
    let folder = folder("killed");
    let whole = whole_answer(&folder);
    let file = folder.join("answer.csv");
    let arguments = ["explode", BOOK, "-o", "answer.csv"];
    // More and more of the run is let by before it is killed; the last runs are through.
    for step in 0..12_u64 {
        fs::write(&file, "old").unwrap();
        let mut run: Child = cutbill(&folder, &arguments).spawn().unwrap();
        let mut rounds = 0;
        // Waits by work, not by the clock.
        while rounds < step * 200 && run.try_wait().unwrap().is_none() {
            thread::yield_now();
            let _ = fs::metadata(&file);
            rounds += 1;
        }
        run.kill().unwrap();
        run.wait().unwrap();
        let left = fs::read(&file).unwrap();
        assert!(left == b"old" || left == whole, "{} bytes are left", left.len());
    }
    // What a killed run may have left beside the file is gone after the next one.
    fs::write(folder.join(".answer.csv.4194305.0.part"), "half").unwrap();
    let output = cutbill(&folder, &arguments).output().unwrap();
    assert_eq!(told(&output), (Some(0), String::new()));
    assert_eq!(fs::read(&file).unwrap(), whole);
    assert_eq!(names(&folder), ["answer.csv"]);
}

#[test]
fn runs_at_once_do_not_mix_their_answers() {
    let folder = folder("at_once");
    let whole = whole_answer(&folder);
    let needs = cutbill(&folder, &["explode", BOOK, "--flat", "--format", "csv"]).output().unwrap();
    assert_ne!(whole, needs.stdout);
    let start = |position: usize| -> Child {
        let mut arguments = vec!["explode", BOOK, "-o", "answer.csv"];
        arguments.extend((position % 2 == 1).then_some("--flat"));
        cutbill(&folder, &arguments).spawn().unwrap()
    };
    let runs: Vec<Child> = (0..6).map(start).collect();
    for run in runs {
        assert_eq!(told(&run.wait_with_output().unwrap()), (Some(0), String::new()));
    }
    let left = fs::read(folder.join("answer.csv")).unwrap();
    assert!(left == whole || left == needs.stdout);
    assert_eq!(names(&folder), ["answer.csv"]);
}

#[test]
fn a_full_disk_leaves_what_was_there() {
    let folder = folder("full");
    let output = cutbill(&folder, &["explode", BOOK, "-o", "/dev/full"]).output().unwrap();
    let expected = "error: /dev/full: cannot be written: no space left\n".to_owned();
    assert_eq!(told(&output), (Some(2), expected));
    // The shell lets no file grow, which ends the run by a signal or by an error; the old file stays either way.
    fs::write(folder.join("answer.csv"), "old").unwrap();
    let output = limited(&folder, "ulimit -f 0", &["explode", BOOK, "-o", "answer.csv"]);
    assert!(!output.status.success());
    assert_eq!(fs::read(folder.join("answer.csv")).unwrap(), b"old");

    let disk = folder.join("disk");
    fs::create_dir(&disk).unwrap();
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=8k", "none"])
        .arg(&disk)
        .stderr(Stdio::null())
        .status();
    if !mounted.is_ok_and(|status| status.success()) {
        println!("skipped: a small disk cannot be mounted here");
        return;
    }
    fs::write(disk.join("report.html"), "old").unwrap();
    let output = cutbill(&disk, &["report", BOOK, "-o", "report.html"]).output().unwrap();
    let there = (fs::read(disk.join("report.html")).unwrap(), names(&disk));
    assert!(Command::new("umount").arg(&disk).status().unwrap().success());
    let (code, told) = told(&output);
    assert_eq!(code, Some(2));
    let last = told.lines().last();
    assert_eq!(last, Some("error: report.html: cannot be written: no space left"));
    assert_eq!(there, (b"old".to_vec(), vec!["report.html".to_owned()]));
}

#[test]
fn a_folder_that_cannot_be_written_to_is_said() {
    let folder = folder("read_only");
    let output = cutbill(&folder, &["explode", BOOK, "-o", "none/answer.csv"]).output().unwrap();
    let expected = "error: none/answer.csv: cannot be written: no such file or folder\n".to_owned();
    assert_eq!(told(&output), (Some(2), expected));
    assert_eq!(names(&folder), Vec::<String>::new());

    fs::set_permissions(&folder, fs::Permissions::from_mode(0o555)).unwrap();
    let may_write_anyway = fs::write(folder.join("probe"), "").is_ok();
    let output = cutbill(&folder, &["explode", BOOK, "-o", "answer.csv"]).output().unwrap();
    fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).unwrap();
    if may_write_anyway {
        println!("skipped: this user may write where nobody may");
        return;
    }
    let expected = "error: answer.csv: cannot be written: permission denied\n".to_owned();
    assert_eq!(told(&output), (Some(2), expected));
    assert_eq!(names(&folder), Vec::<String>::new());
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    let folder = folder("closed_pipe");
    for arguments in [&["explode", BOOK, "--format", "csv"][..], &["--help"], &["check", BOOK]] {
        let mut run = cutbill(&folder, arguments).spawn().unwrap();
        let mut first = String::new();
        BufReader::with_capacity(16, run.stdout.take().unwrap()).read_line(&mut first).unwrap();
        assert!(!first.is_empty());
        assert_eq!(told(&run.wait_with_output().unwrap()), (Some(0), String::new()));
    }
    // Nobody reads the findings either; the exit code still tells.
    fs::create_dir(folder.join("book")).unwrap();
    fs::write(folder.join("book/bill.csv"), "parent,component\nA,hinge\n").unwrap();
    let mut run = cutbill(&folder, &["check", "book"]).spawn().unwrap();
    drop((run.stdout.take(), run.stderr.take()));
    assert_eq!(run.wait().unwrap().code(), Some(2));
}

#[test]
fn a_new_book_is_whole_or_not_there() {
    let folder = folder("init");
    fs::create_dir(folder.join("here")).unwrap();
    let output = cutbill(&folder.join("here"), &["init", "."]).output().unwrap();
    assert_eq!(told(&output), (Some(0), String::new()));
    let output = cutbill(&folder, &["init", "new/book"]).output().unwrap();
    assert_eq!(told(&output), (Some(0), String::new()));
    assert_eq!(names(&folder.join("here")), names(&folder.join("new/book")));
    let output = limited(&folder, "ulimit -f 0", &["init", "half"]);
    assert!(!output.status.success());
    assert!(!folder.join("half").exists());
    let output = cutbill(&folder, &["init", "here"]).output().unwrap();
    let expected = "error: here: the folder is not empty; nothing is written\n".to_owned();
    assert_eq!(told(&output), (Some(2), expected));
}

#[test]
fn errors_and_defects_show_no_backtrace() {
    let folder = folder("backtrace");
    let mut wrong = cutbill(&folder, &["check", "none"]);
    let output = wrong.env("RUST_BACKTRACE", "1").output().unwrap();
    let expected = "error: none: cannot be read: no such file or folder\n".to_owned();
    assert_eq!(told(&output), (Some(2), expected));
    // With no room for a single thread, a library below panics: nothing of the program's own is known to. With room for some,
    // they would race for the rest of the memory, and end the process.
    fs::write(folder.join("answer.csv"), "old").unwrap();
    let limits = "ulimit -v 1000000; export RUST_MIN_STACK=8000000000 RUST_BACKTRACE=1";
    let output = limited(&folder, limits, &["rollup", BOOK, "-o", "answer.csv"]);
    let (code, told) = told(&output);
    assert_eq!(code, Some(2), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(told.starts_with("error: a defect of this program, not of the book: "), "{told}");
    assert!(told.ends_with("; nothing is written, please report it\n"), "{told}");
    assert_eq!(fs::read(folder.join("answer.csv")).unwrap(), b"old");
    assert_eq!(names(&folder), ["answer.csv"]);
}

#[test]
fn input_without_end_ends_at_the_limit() {
    let folder = folder("endless");
    std::os::unix::fs::symlink("/dev/zero", folder.join("book.xlsx")).unwrap();
    let arguments = ["check", "book.xlsx", "--limit", "file_bytes=1000000"];
    let output = cutbill(&folder, &arguments).output().unwrap();
    let expected =
        "error: book.xlsx: the size in bytes is beyond the limit of 1000000 (`file_bytes`)\n";
    assert_eq!(told(&output), (Some(2), expected.to_owned()));
    for (limit, expected) in [
        (
            "rows",
            "error: `--limit`: `rows` is no limit\n  hint: write its name and a whole number, as in `rows=20000000`\n",
        ),
        ("columns=70000", "error: `70000` is out of range (from 1 to 65535)\n"),
    ] {
        let output = cutbill(&folder, &["check", BOOK, "--limit", limit]).output().unwrap();
        assert_eq!(told(&output), (Some(2), expected.to_owned()));
    }
}
