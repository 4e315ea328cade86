//! What the machine must have, and one plain sentence (or apt, on Debian as root) when it has not.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Result, bail};

/// The root of the workspace: the folder above this package.
pub fn root() -> PathBuf {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().unwrap_or(here).to_path_buf()
}

/// The cargo that started us, so that a chosen toolchain stays chosen.
pub fn cargo() -> String {
    std::env::var("CARGO").unwrap_or_else(|_| "cargo".to_owned())
}

/// A C compiler: the bundled SQLite and zstd are C.
pub fn compiler() -> Result<()> {
    if answers("cc", &["--version"]) || std::env::var_os("CC").is_some() || cfg!(windows) {
        return Ok(());
    }
    if Path::new("/usr/bin/apt-get").exists() && is_root() {
        eprintln!("xtask: no C compiler here; installing build-essential with apt");
        let fetched =
            quiet("apt-get", &["update", "-q"]) && quiet("apt-get", &["install", "-q", "-y", "build-essential"]);
        if fetched && answers("cc", &["--version"]) {
            return Ok(());
        }
    }
    bail!("this machine has no C compiler (cc), which the bundled SQLite needs: install build-essential or its like")
}

/// Node and npm, of at least a version: the screens are built with them.
pub fn node(least: u32) -> Result<()> {
    let said = Command::new("node").arg("--version").output().map(|output| output.stdout).unwrap_or_default();
    let said = String::from_utf8_lossy(&said).into_owned();
    let version = said.trim().trim_start_matches('v').split('.').next().and_then(|major| major.parse::<u32>().ok());
    match version {
        Some(version) if version >= least && answers("npm", &["--version"]) => Ok(()),
        Some(version) if version < least => {
            bail!(
                "this machine has Node {version}; the screens are built with Node {least} or later: install it and npm"
            )
        }
        _ => {
            bail!("this machine has no Node with npm, which the screens are built with: install Node {least} or later")
        }
    }
}

/// Whether there is a Chromium for the browser tests.
pub fn chromium() -> bool {
    Path::new("/usr/bin/chromium").exists()
}

/// A part of the toolchain that cargo calls by a subcommand.
pub fn component(subcommand: &str, name: &str) -> Result<()> {
    if answers(&cargo(), &[subcommand, "--version"]) {
        return Ok(());
    }
    if quiet("rustup", &["component", "add", name]) && answers(&cargo(), &[subcommand, "--version"]) {
        return Ok(());
    }
    bail!("this machine's Rust toolchain has no {name}: add it with `rustup component add {name}`")
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.trim_ascii() == b"0")
}

fn answers(program: &str, words: &[&str]) -> bool {
    Command::new(program)
        .args(words)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}

fn quiet(program: &str, words: &[&str]) -> bool {
    Command::new(program)
        .args(words)
        .env("DEBIAN_FRONTEND", "noninteractive")
        .status()
        .is_ok_and(|status| status.success())
}
