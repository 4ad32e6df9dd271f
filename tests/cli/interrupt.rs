//! An interrupt while pieces are cut.
#![cfg(target_os = "linux")]

use std::fs;
use std::process::{Command, Stdio};

use super::cutbill;

/// Tells whether a process catches interrupts by now, as the system says.
#[expect(clippy::disallowed_methods, reason = "the system tells it in a file")]
fn catches_interrupts(process: u32) -> bool {
    let status = fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let caught = status.lines().find_map(|line| line.strip_prefix("SigCgt:")).unwrap();
    u64::from_str_radix(caught.trim(), 16).unwrap() & 0b10 != 0
}

/// Pieces that leave a gap to the bound, and an effort that takes hours.
#[test]
fn an_interrupt_prints_the_best_nest_so_far() {
    let mut bill = String::from("parent,component,quantity,length,width,use\n");
    for index in 0..30 {
        let (length, width) = (20 + index * 37 % 50, 12 + index * 53 % 30);
        bill.push_str(&format!("P,PANEL,1,{length} in,{width} in,piece\n"));
    }
    let files = [
        ("book/settings.csv", "key,value\nas_of,2027-03-01\n"),
        ("book/plans.csv", "plan\nP\n"),
        ("book/bill.csv", bill.as_str()),
        (
            "book/items.csv",
            "item,form,price,price_unit,weight,kerf,grain\nPANEL,sheet,40,each,40 lb/ft2,1/8 in,length\n",
        ),
        ("book/sizes.csv", "item,length,width\nPANEL,96 in,48 in\n"),
    ];
    let arguments = ["nest", "book", "--effort", "4000000000", "--format", "csv"];
    let (mut command, _) = cutbill("interrupt", &files, &arguments);
    let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    while !catches_interrupts(child.id()) {
        std::thread::yield_now();
    }
    let told = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(told.success());
    let output = child.wait_with_output().unwrap();
    let shown = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    assert_eq!(
        shown(&output.stderr),
        "\rnote: ending with the best cutting found so far; press Ctrl-C again to end at once\n\
         gap: interrupted: the cutting is the best found so far, not the best that the effort allows\n"
    );
    assert_eq!(output.status.code(), Some(1));
    assert!(shown(&output.stdout).contains(",stopped,"), "{}", shown(&output.stdout));
}
