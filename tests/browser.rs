//! Opens a report in a headless browser, and reads the page as the script left it.
//!
//! Where Chromium is not installed, this says so and passes. What a person would notice beyond that (sorting, units, print,
//! accessibility) is checked by `tests/browser/check.mjs`, which `.ci/run` calls.

use std::fs;
use std::io::{self, Write};
use std::path::Path;
use std::process::{Command, Stdio};

/// Starts the browser without a screen, a sandbox (it may be root) or any call of its own to the network.
const FLAGS: [&str; 8] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
];

#[test]
fn the_script_of_a_report_runs_under_its_policy() {
    let version = Command::new("chromium").arg("--version").stdin(Stdio::null()).output();
    if version.is_err() {
        // Written past the test runner, which keeps back what a passing test prints.
        writeln!(io::stderr(), "skipped: no report is opened, since `chromium` is not installed")
            .unwrap();
        return;
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("browser");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    let file = folder.join("report.html");
    let status = Command::new(env!("CARGO_BIN_EXE_cutbill"))
        .args(["report", "samples/starter", "--lot", "1", "--effort", "1", "-o"])
        .arg(&file)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdin(Stdio::null())
        .status()
        .unwrap();
    assert!(status.success());
    let opened = Command::new("chromium")
        .args(FLAGS)
        .arg(format!("--user-data-dir={}", folder.join("profile").display()))
        .arg("--dump-dom")
        .arg(format!("file://{}", file.display()))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let page = String::from_utf8(opened.stdout).unwrap();
    assert!(page.contains("class=\"js\""), "the script did not run");
    assert!(page.contains("role=\"button\""), "no title became a button");
}
