//! Lists what the program is made of, for the archive that is handed out.
//!
//!     cargo run --example components -- sbom TARGET [TIME]    CycloneDX 1.5, as JSON
//!     cargo run --example components -- licenses TARGET       the licenses of all crates in the program, each text once
//!
//! Both follow from `cargo metadata` for the target and from the checksums in `Cargo.lock`, so the same lock file gives the
//! same bytes. Crates that only help to build (scripts, procedural macros and what these need) are listed as excluded from
//! the program; those for tests are left out. Cargo resolves features for program and tests together, so the list may
//! hold a crate too many, never one too few.

#![expect(clippy::print_stdout, reason = "the list goes to standard output")]

use std::collections::{BTreeMap, BTreeSet};
use std::error::Error;
use std::path::Path;
use std::process::Command;

use clap::{Parser, ValueEnum};
use serde_json::{Value, json};

#[derive(Parser)]
struct Arguments {
    list: List,
    /// The target the program is built for, such as `x86_64-unknown-linux-gnu`.
    target: String,
    /// When the list is made, as `2027-03-15T08:00:00Z`; no clock is read.
    time: Option<String>,
}

#[derive(Clone, Copy, ValueEnum)]
enum List {
    Sbom,
    Licenses,
}

/// What a crate is to the program; the stronger one counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Builds,
    Shipped,
}

/// Packages by id, each with what it is to the program.
type Parts<'a> = BTreeMap<&'a str, (&'a Value, Part)>;

fn main() -> Result<(), Box<dyn Error>> {
    let Arguments { list, target, time } = Arguments::parse();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--format-version", "1", "--filter-platform", &target])
        .current_dir(root)
        .output()?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into());
    }
    let metadata: Value = serde_json::from_slice(&output.stdout)?;
    #[expect(clippy::disallowed_methods, reason = "an example may read the tree")]
    let lock = std::fs::read_to_string(root.join("Cargo.lock"))?;
    match list {
        List::Sbom => {
            let sbom = sbom(&metadata, &checksums(&lock), time.as_deref())?;
            println!("{}", serde_json::to_string_pretty(&sbom)?);
        }
        List::Licenses => print!("{}", licenses(&metadata, &texts)?),
    }
    Ok(())
}

/// Returns the packages by id, and what each is to the program.
fn parts(metadata: &Value) -> Result<Parts<'_>, Box<dyn Error>> {
    let packages = by_id(&metadata["packages"])?;
    let nodes = by_id(&metadata["resolve"]["nodes"])?;
    let root = metadata["resolve"]["root"].as_str().ok_or("there is no root package")?;
    let mut parts = BTreeMap::new();
    let mut open = vec![(root, Part::Shipped)];
    while let Some((id, part)) = open.pop() {
        let package = *packages.get(id).ok_or("a package is missing")?;
        // What a macro needs runs with the compiler, however the macro is asked for.
        let part = if is_macro(package) { Part::Builds } else { part };
        if parts.get(id).is_some_and(|&(_, known)| known >= part) {
            continue;
        }
        parts.insert(id, (package, part));
        for needed in list(&nodes.get(id).ok_or("a node is missing")?["deps"]) {
            let strongest =
                list(&needed["dep_kinds"]).iter().filter_map(|kind| match kind["kind"].as_str() {
                    None => Some(part),
                    Some("build") => Some(Part::Builds),
                    Some(_) => None,
                });
            if let (Some(part), Some(id)) = (strongest.max(), needed["pkg"].as_str()) {
                open.push((id, part));
            }
        }
    }
    Ok(parts)
}

fn by_id(packages: &Value) -> Result<BTreeMap<&str, &Value>, Box<dyn Error>> {
    let pairs = list(packages).iter().map(|package| Some((package["id"].as_str()?, package)));
    Ok(pairs.collect::<Option<_>>().ok_or("a package has no id")?)
}

fn is_macro(package: &Value) -> bool {
    list(&package["targets"])
        .iter()
        .any(|target| list(&target["kind"]).iter().any(|kind| kind == "proc-macro"))
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_default()
}

/// Returns the checksums of the lock file, by name and version.
fn checksums(lock: &str) -> BTreeMap<(String, String), String> {
    let field = |package: &str, name: &str| {
        let line = package.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(" = \""));
        Some(line?.trim_end_matches('"').to_owned())
    };
    lock.split("[[package]]")
        .filter_map(|package| {
            let name = (field(package, "name")?, field(package, "version")?);
            Some((name, field(package, "checksum")?))
        })
        .collect()
}

/// Returns the list of components.
fn sbom(
    metadata: &Value,
    checksums: &BTreeMap<(String, String), String>,
    time: Option<&str>,
) -> Result<Value, Box<dyn Error>> {
    let parts = parts(metadata)?;
    let mut components = BTreeMap::new();
    let mut program = Value::Null;
    for (&id, &(package, part)) in &parts {
        let name = (text(&package["name"]).to_owned(), text(&package["version"]).to_owned());
        let is_program = metadata["resolve"]["root"] == id;
        let mut component = json!({
            "type": if is_program { "application" } else { "library" },
            "bom-ref": reference(package),
            "name": name.0,
            "version": name.1,
            "description": text(&package["description"]).trim(),
            "scope": if part == Part::Shipped { "required" } else { "excluded" },
            "licenses": [{ "expression": license(package) }],
            "purl": reference(package),
        });
        if let Some(checksum) = checksums.get(&name) {
            component["hashes"] = json!([{ "alg": "SHA-256", "content": checksum }]);
        }
        if let Some(repository) = package["repository"].as_str() {
            component["externalReferences"] = json!([{ "type": "vcs", "url": repository }]);
        }
        if is_program {
            program = component;
        } else {
            components.insert(reference(package), component);
        }
    }
    let mut about = json!({ "component": program });
    if let Some(time) = time {
        about["timestamp"] = json!(time);
    }
    Ok(json!({
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "version": 1,
        "metadata": about,
        "components": components.into_values().collect::<Vec<_>>(),
        "dependencies": dependencies(metadata, &parts)?,
    }))
}

/// Returns what each component asks for, without what only its tests ask for.
fn dependencies(metadata: &Value, parts: &Parts<'_>) -> Result<Vec<Value>, Box<dyn Error>> {
    let nodes = by_id(&metadata["resolve"]["nodes"])?;
    let mut lines = BTreeMap::new();
    for (id, (package, _)) in parts {
        let needed: BTreeSet<String> = list(&nodes[id]["deps"])
            .iter()
            .filter(|needed| list(&needed["dep_kinds"]).iter().any(|kind| kind["kind"] != "dev"))
            .filter_map(|needed| Some(reference(parts.get(needed["pkg"].as_str()?)?.0)))
            .collect();
        lines.insert(reference(package), needed);
    }
    Ok(lines.iter().map(|(from, to)| json!({ "ref": from, "dependsOn": to })).collect())
}

/// Returns the package URL of a crate, which is its name in the list as well.
fn reference(package: &Value) -> String {
    let version = text(&package["version"]).replace('+', "%2B");
    format!("pkg:cargo/{}@{version}", text(&package["name"]))
}

/// Returns the license as an SPDX expression; older crates part alternatives by a slash.
fn license(package: &Value) -> String {
    text(&package["license"]).split('/').map(str::trim).collect::<Vec<_>>().join(" OR ")
}

/// Returns the licenses of all crates in the program, each text once below the crates that have it.
fn licenses(
    metadata: &Value,
    texts: &dyn Fn(&Path) -> std::io::Result<Vec<String>>,
) -> Result<String, Box<dyn Error>> {
    let mut crates_of: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    let mut without = BTreeSet::new();
    for (&id, &(package, part)) in &parts(metadata)? {
        if part == Part::Builds || metadata["resolve"]["root"] == id {
            continue;
        }
        let name = format!(
            "{} {}, {}",
            text(&package["name"]),
            text(&package["version"]),
            license(package)
        );
        let folder = Path::new(text(&package["manifest_path"])).parent().ok_or("no folder")?;
        let found = texts(folder)?;
        if found.is_empty() {
            without.insert(name.clone());
        }
        for text in found {
            crates_of.entry(text).or_default().insert(name.clone());
        }
    }
    let mut shown = String::from(
        "The program holds code of these crates and of the Rust standard library (MIT OR Apache-2.0), under the\n\
         licenses below.\n",
    );
    let line = "=".repeat(80);
    let mut blocks: Vec<(&BTreeSet<String>, &str)> =
        crates_of.iter().map(|(text, crates)| (crates, text.as_str())).collect();
    blocks.sort();
    if !without.is_empty() {
        blocks.push((&without, "Packages of these crates hold no text of their license."));
    }
    for (crates, text) in blocks {
        let crates: Vec<&str> = crates.iter().map(String::as_str).collect();
        shown.push_str(&format!("\n{line}\n{}\n\n{}\n", crates.join("\n"), text.trim_end()));
    }
    Ok(shown)
}

/// Returns the texts of licenses in the folder of a crate, in the order of their names.
fn texts(folder: &Path) -> std::io::Result<Vec<String>> {
    const BEGINNINGS: [&str; 6] =
        ["LICENSE", "LICENCE", "COPYING", "COPYRIGHT", "NOTICE", "UNLICENSE"];
    let mut files: Vec<_> = std::fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()?;
    files.retain(|file| {
        let name = file.file_name().map(|name| name.to_string_lossy().to_uppercase());
        let is_named = name.is_some_and(|name| BEGINNINGS.iter().any(|of| name.starts_with(of)));
        is_named && file.is_file()
    });
    files.sort();
    #[expect(clippy::disallowed_methods, reason = "an example may read files of crates")]
    let bytes = files.into_iter().map(std::fs::read);
    bytes.map(|bytes| Ok(String::from_utf8_lossy(&bytes?).replace("\r\n", "\n"))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A program that needs `wood`, which needs `saw` to be built, and a macro `plan` that needs `pen`; `test` is for tests.
    fn metadata() -> Value {
        let package = |name: &str, kind: &str| {
            json!({
                "id": name, "name": name, "version": "1.0.0+b", "license": "MIT/Apache-2.0",
                "description": "", "repository": null, "targets": [{ "kind": [kind] }],
                "manifest_path": format!("/crates/{name}/Cargo.toml"),
            })
        };
        let needs = |id: &str, needed: &[(&str, Value)]| {
            let deps = needed
                .iter()
                .map(|(to, kind)| json!({ "pkg": to, "dep_kinds": [{ "kind": kind }] }));
            json!({ "id": id, "deps": deps.collect::<Vec<_>>() })
        };
        let normal = Value::Null;
        json!({
            "packages": [
                package("house", "bin"), package("wood", "lib"), package("saw", "lib"),
                package("plan", "proc-macro"), package("pen", "lib"), package("test", "lib"),
            ],
            "resolve": {
                "root": "house",
                "nodes": [
                    needs("house", &[("wood", normal.clone()), ("plan", normal.clone()), ("test", json!("dev"))]),
                    needs("wood", &[("saw", json!("build"))]),
                    needs("plan", &[("pen", normal)]),
                    needs("saw", &[]), needs("pen", &[]), needs("test", &[]),
                ],
            },
        })
    }

    #[test]
    fn crates_that_only_build_are_not_in_the_program_and_those_of_tests_not_in_the_list() {
        let metadata = metadata();
        let sbom = sbom(&metadata, &BTreeMap::new(), None).unwrap();
        let listed: Vec<(&str, &str)> = list(&sbom["components"])
            .iter()
            .map(|component| (text(&component["name"]), text(&component["scope"])))
            .collect();
        let expected =
            [("pen", "excluded"), ("plan", "excluded"), ("saw", "excluded"), ("wood", "required")];
        assert_eq!(listed, expected);
        assert_eq!(sbom["metadata"]["component"]["name"], "house");
        let of_house = json!({ "ref": "pkg:cargo/house@1.0.0%2Bb", "dependsOn": ["pkg:cargo/plan@1.0.0%2Bb", "pkg:cargo/wood@1.0.0%2Bb"] });
        assert_eq!(sbom["dependencies"][0], of_house);
    }

    #[test]
    fn a_checksum_is_that_of_name_and_version() {
        let lock = "version = 4\n\n[[package]]\nname = \"wood\"\nversion = \"1.0.0+b\"\nchecksum = \"abc\"\n\n\
            [[package]]\nname = \"house\"\nversion = \"1.0.0+b\"\n";
        let checksums = checksums(lock);
        assert_eq!(checksums.len(), 1);
        let sbom = sbom(&metadata(), &checksums, Some("2027-03-15T08:00:00Z")).unwrap();
        let wood = &sbom["components"][3];
        assert_eq!(wood["hashes"], json!([{ "alg": "SHA-256", "content": "abc" }]));
        assert_eq!(wood["licenses"], json!([{ "expression": "MIT OR Apache-2.0" }]));
        assert_eq!(sbom["metadata"]["timestamp"], "2027-03-15T08:00:00Z");
    }

    #[test]
    fn licenses_are_told_of_what_is_in_the_program() {
        let shown = licenses(&metadata(), &|folder| Ok(vec![format!("of {}", folder.display())]));
        let expected = format!(
            "The program holds code of these crates and of the Rust standard library (MIT OR Apache-2.0), under the\n\
             licenses below.\n\n{}\nwood 1.0.0+b, MIT OR Apache-2.0\n\nof /crates/wood\n",
            "=".repeat(80)
        );
        assert_eq!(shown.unwrap(), expected);
    }
}
