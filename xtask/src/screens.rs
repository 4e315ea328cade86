//! The web part: the screens are built before the program that takes them in, and tested after it.

use std::path::Path;
use std::process::Command;

use anyhow::{Result, bail};

use crate::machine;

/// Node's version at least.
const NODE: u32 = 20;

/// Fetches what the lock file names (if it is not here yet) and builds the screens.
pub fn build() -> Result<()> {
    machine::node(NODE)?;
    fetch()?;
    npm(&["run", "build"])
}

/// Types against the API document, types of the code, unit tests, and the screens in a browser.
pub fn test() -> Result<()> {
    npm(&["run", "check:api"])?;
    npm(&["run", "check"])?;
    npm(&["test"])?;
    if !machine::chromium() {
        bail!(
            "everything else passed, but the browser tests could not run: this machine has no Chromium (Debian: apt-get install chromium)"
        );
    }
    npm(&["run", "test:browser"])
}

/// `npm ci`, when the lock file is newer than what it fetched last.
fn fetch() -> Result<()> {
    let changed = |path: &Path| path.metadata().and_then(|about| about.modified()).ok();
    let web = machine::root().join("web");
    let fetched = changed(&web.join("node_modules/.package-lock.json"));
    let wanted = changed(&web.join("package-lock.json"));
    if fetched.is_some() && fetched >= wanted {
        return Ok(());
    }
    npm(&["ci", "--no-audit", "--no-fund"])
}

fn npm(words: &[&str]) -> Result<()> {
    crate::start_in("web", Command::new("npm").args(words), "npm")
}
