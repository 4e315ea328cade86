//! Takes the built screens (`web/dist`) into the program where they have been built; without them the program still
//! builds and shows one page that says so. It only reads files: nothing is built or fetched here.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn main() -> std::io::Result<()> {
    let here = PathBuf::from(std::env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default());
    let built = here.join("../../web/dist");
    println!("cargo::rerun-if-changed=build.rs");
    // A path that is not there would have the build run again each time.
    let watched = [built.as_path(), &here.join("../../web")].into_iter().find(|path| path.exists()).map(Path::to_owned);
    if let Some(watched) = watched {
        println!("cargo::rerun-if-changed={}", watched.display());
    }
    let mut files = Vec::new();
    if built.join("index.html").is_file() {
        gather(&built.canonicalize()?, &mut files)?;
    }
    let mut text = String::from("pub(crate) const SCREENS: &[(&str, &[u8])] = &[\n");
    let root = built.canonicalize().unwrap_or_default();
    for file in files {
        println!("cargo::rerun-if-changed={}", file.display());
        let name = file.strip_prefix(&root).unwrap_or(&file).to_string_lossy().replace('\\', "/");
        // A String takes any text.
        let _ = writeln!(text, "    ({:?}, include_bytes!({:?})),", format!("/{name}"), file.display().to_string());
    }
    text.push_str("];\n");
    let out = PathBuf::from(std::env::var_os("OUT_DIR").unwrap_or_default());
    std::fs::write(out.join("screens.rs"), text)
}

/// Every file below a folder, in order of name.
fn gather(folder: &Path, files: &mut Vec<PathBuf>) -> std::io::Result<()> {
    let mut entries: Vec<PathBuf> =
        std::fs::read_dir(folder)?.map(|entry| entry.map(|entry| entry.path())).collect::<Result<_, _>>()?;
    entries.sort();
    for entry in entries {
        if entry.is_dir() {
            gather(&entry, files)?;
        } else {
            files.push(entry);
        }
    }
    Ok(())
}
