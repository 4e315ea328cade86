//! The rules of the house that a test can see by reading the tree: arrows between rooms, one SQLite, licences,
//! a first line that says what a file is for, no test that never runs.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "this whole file is a test")]

#[path = "house/spdx.rs"]
mod spdx;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

/// Which floor a room is on; a room may use only rooms on lower floors. A new room must be entered here.
const FLOORS: [(&str, u8); 16] = [
    ("quantity", 0),
    ("gear", 1),
    ("water", 1),
    ("cold", 1),
    ("voyage", 2),
    ("rules", 3),
    ("forecast", 3),
    ("insight", 3),
    ("journal", 3),
    ("instruments", 3),
    ("records", 4),
    ("bridge", 5),
    ("gangion", 6),
    ("shore", 6),
    // The runner may start anything and link nothing.
    ("xtask", 0),
    ("fuzz", 7),
];

/// Licences that code linked into the program may be under.
const LICENCES: [&str; 13] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "CC0-1.0",
    "Unlicense",
    "0BSD",
    "BSL-1.0",
    "MIT-0",
];

/// Packages allowed under a licence that is not on the list: used as they come, unchanged, file by file.
const EXCEPTIONS: [(&str, &str); 1] = [("serialport", "MPL-2.0")];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn metadata(extra: &[&str]) -> Value {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned());
    let output = Command::new(cargo)
        .args(["metadata", "--locked", "--format-version", "1"])
        .args(extra)
        .current_dir(root())
        .output()
        .expect("cargo must start");
    assert!(output.status.success(), "cargo metadata failed: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo metadata must be JSON")
}

/// Every `.rs` file that git would carry: the crates and the runner, without build output.
fn sources() -> Vec<(String, String)> {
    let root = root();
    let mut found = Vec::new();
    let mut open = vec![root.join("crates"), root.join("xtask"), root.join("fuzz")];
    while let Some(folder) = open.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else { continue };
        for entry in entries.flatten() {
            let path = entry.path();
            let name = entry.file_name().to_string_lossy().into_owned();
            if path.is_dir() {
                if name != "target" && !name.starts_with('.') {
                    open.push(path);
                }
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
                found.push((path.strip_prefix(&root).unwrap().to_string_lossy().replace('\\', "/"), text));
            }
        }
    }
    found.sort();
    assert!(found.len() > 10, "the tree was not found: {} files", found.len());
    found
}

#[test]
fn verif_no_arrow_points_upward() {
    let floors: BTreeMap<&str, u8> = FLOORS.into();
    let document = metadata(&["--no-deps"]);
    let packages = document["packages"].as_array().unwrap();
    let ours: BTreeSet<&str> = packages.iter().map(|package| package["name"].as_str().unwrap()).collect();
    let mut faults = Vec::new();
    for package in packages {
        let name = package["name"].as_str().unwrap();
        let Some(floor) = floors.get(name) else {
            faults.push(format!("{name} is on no floor: enter it in FLOORS"));
            continue;
        };
        for dependency in package["dependencies"].as_array().unwrap() {
            let target = dependency["name"].as_str().unwrap();
            // kind is null for what is linked; "dev" for tests, which may look anywhere.
            if !ours.contains(target) || dependency["kind"] == "dev" {
                continue;
            }
            match floors.get(target) {
                Some(lower) if lower < floor => {}
                _ => faults.push(format!("{name} (floor {floor}) may not use {target}")),
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn verif_every_file_says_what_it_is_for() {
    let silent: Vec<String> =
        sources().into_iter().filter(|(_, text)| !text.starts_with("//!")).map(|(path, _)| path).collect();
    assert!(silent.is_empty(), "these files do not start with //!: {silent:?}");
}

#[test]
fn verif_no_test_is_left_out() {
    // Put together here, so that this file does not accuse itself.
    let mark = format!("#[{}", "ignore");
    let left: Vec<String> =
        sources().into_iter().filter(|(_, text)| text.contains(&mark)).map(|(path, _)| path).collect();
    assert!(left.is_empty(), "tests that never run stand in {left:?}");
}

#[test]
fn verif_no_unwrap_outside_tests() {
    let mut faults = Vec::new();
    for (path, text) in sources() {
        if !path.contains("/src/") || path.ends_with("tests.rs") || path.contains("/tests/") {
            continue;
        }
        let body = text.split("#[cfg(test)]").next().unwrap_or_default();
        for (number, line) in body.lines().enumerate() {
            let code = line.split("//").next().unwrap_or_default();
            if code.contains(".unwrap()") {
                faults.push(format!("{path}:{}", number + 1));
            }
        }
    }
    assert!(faults.is_empty(), ".unwrap() outside tests: {faults:?}");
}

#[test]
fn verif_there_is_one_sqlite_and_one_room_for_it() {
    let lock = std::fs::read_to_string(root().join("Cargo.lock")).unwrap();
    let copies = lock.lines().filter(|line| *line == "name = \"libsqlite3-sys\"").count();
    assert_eq!(copies, 1, "Cargo.lock holds {copies} of libsqlite3-sys");
    let document = metadata(&["--no-deps"]);
    for package in document["packages"].as_array().unwrap() {
        for dependency in package["dependencies"].as_array().unwrap() {
            let target = dependency["name"].as_str().unwrap();
            if ["rusqlite", "libsqlite3-sys"].contains(&target) {
                assert_eq!(package["name"], "journal", "only journal may name SQLite");
            }
        }
    }
    for (path, text) in sources() {
        let named = text.contains("use rusqlite") || text.contains("rusqlite::");
        assert!(
            !named || path.starts_with("crates/journal/") || path.starts_with("xtask/tests/"),
            "{path} names SQLite"
        );
    }
}

#[test]
fn verif_every_linked_package_is_under_an_allowed_licence() {
    let document = metadata(&[]);
    let packages: BTreeMap<&str, &Value> = document["packages"]
        .as_array()
        .unwrap()
        .iter()
        .map(|package| (package["id"].as_str().unwrap(), package))
        .collect();
    let nodes: BTreeMap<&str, &Value> = document["resolve"]["nodes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|node| (node["id"].as_str().unwrap(), node))
        .collect();
    let mut open: Vec<&str> =
        document["workspace_members"].as_array().unwrap().iter().map(|member| member.as_str().unwrap()).collect();
    let mut seen = BTreeSet::new();
    let mut faults = Vec::new();
    while let Some(id) = open.pop() {
        if !seen.insert(id) {
            continue;
        }
        let package = packages[id];
        let name = package["name"].as_str().unwrap();
        let licence = package["license"].as_str().unwrap_or("none named");
        let excepted = EXCEPTIONS.contains(&(name, licence));
        match spdx::allowed(licence, &LICENCES) {
            _ if excepted => {}
            Ok(true) => {}
            Ok(false) => faults.push(format!("{name}: {licence}")),
            Err(reason) => faults.push(format!("{name}: {licence} ({reason})")),
        }
        for dependency in nodes[id]["deps"].as_array().unwrap() {
            let linked = dependency["dep_kinds"].as_array().unwrap().iter().any(|kind| kind["kind"] != "dev");
            if linked {
                open.push(dependency["pkg"].as_str().unwrap());
            }
        }
    }
    assert!(seen.len() > 20, "only {} packages were found", seen.len());
    assert!(faults.is_empty(), "licences not on the list:\n{}", faults.join("\n"));
}

#[test]
fn verif_the_readme_names_its_two_commands() {
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    for command in ["cargo xtask run", "cargo xtask test"] {
        assert!(
            readme.lines().any(|line| line.trim() == command),
            "README.md does not show `{command}` on its own line"
        );
    }
}

#[test]
fn verif_pure_rooms_forbid_clock_file_network_and_random_order() {
    for room in ["quantity", "gear", "water", "cold", "voyage", "rules", "forecast", "insight"] {
        let folder = root().join("crates").join(room);
        if !folder.exists() {
            continue;
        }
        let text = std::fs::read_to_string(folder.join("clippy.toml"))
            .unwrap_or_else(|error| panic!("{room} needs its own clippy.toml: {error}"));
        for word in ["SystemTime", "Instant", "std::fs", "std::net", "std::thread", "HashMap", "HashSet"] {
            assert!(text.contains(word), "crates/{room}/clippy.toml does not forbid {word}");
        }
    }
}
