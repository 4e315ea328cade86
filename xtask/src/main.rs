//! One runner for everything a developer or CI does: `cargo xtask run`, `test`, `lint`, `bless`, `ci`, `bench`,
//! `powercut`.
//!
//! It only starts other programs and says in one sentence what the machine lacks. All of it builds with the same
//! (development) profile except `bench`, so nothing is compiled twice.

mod machine;
mod peers;
mod screens;

use std::process::{Command, ExitCode};

use anyhow::{Context, Result, bail};
use clap::{Parser, Subcommand};

/// One runner for everything a developer or CI does.
#[derive(Parser)]
#[command(name = "cargo xtask", about)]
struct Line {
    #[command(subcommand)]
    task: Task,
}

#[derive(Subcommand)]
enum Task {
    /// Build the ship's program, play the demo voyage into a journal and print where the reports are
    Run {
        /// Play the voyage live, this many times faster than it happened; without it, all at once
        #[arg(long, value_name = "N")]
        speed: Option<f64>,
    },
    /// Run every test of the workspace
    Test,
    /// Check formatting and run clippy over everything; a warning is an error
    Lint,
    /// Write the golden files anew from what the program says today; look at the difference before committing
    Bless,
    /// What CI does: lint, the README's test command, and a tree that is still clean afterwards
    Ci,
    /// Run the benchmarks (release profile), then outside programs on the same basket, and print the ratios
    Bench,
    /// Cut the power of a journal again and again and count what was lost (nothing may be)
    Powercut {
        /// Passed on to the example
        #[arg(trailing_var_arg = true, allow_hyphen_values = true)]
        rest: Vec<String>,
    },
}

fn main() -> ExitCode {
    match perform(Line::parse().task) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("xtask: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn perform(task: Task) -> Result<()> {
    match task {
        Task::Run { speed } => run(speed),
        Task::Test => {
            machine::compiler()?;
            screens::build()?;
            cargo(&["test", "--workspace", "--locked"])?;
            screens::test()
        }
        Task::Lint => lint(),
        Task::Bless => {
            machine::compiler()?;
            start(Command::new(machine::cargo()).args(["test", "--workspace", "--locked"]).env("BLESS", "1"))
        }
        Task::Ci => ci(),
        Task::Bench => {
            machine::compiler()?;
            cargo(&["bench", "--workspace", "--locked"])?;
            peers::compare()
        }
        Task::Powercut { rest } => {
            machine::compiler()?;
            let mut words = vec!["run", "--locked", "--package", "journal", "--example", "powercut", "--"];
            words.extend(rest.iter().map(String::as_str));
            cargo(&words)
        }
    }
}

fn run(speed: Option<f64>) -> Result<()> {
    machine::compiler()?;
    screens::build()?;
    let mut words = vec!["run", "--locked", "--package", "gangion", "--", "serve", "--data", "demo-voyage", "--demo"];
    let factor = speed.map(|factor| factor.to_string());
    if let Some(factor) = &factor {
        words.extend(["--speed", factor]);
    }
    cargo(&words)
}

fn lint() -> Result<()> {
    machine::compiler()?;
    machine::component("fmt", "rustfmt")?;
    machine::component("clippy", "clippy")?;
    cargo(&["fmt", "--all", "--check"])?;
    cargo(&["clippy", "--workspace", "--all-targets", "--locked", "--", "-D", "warnings"])
}

fn ci() -> Result<()> {
    lint()?;
    cargo(&["xtask", "test"])?;
    clean_tree()
}

/// A build or a test that leaves files behind is a fault of the build or the test.
fn clean_tree() -> Result<()> {
    let output = Command::new("git")
        .args(["status", "--porcelain", "--untracked-files=all"])
        .current_dir(machine::root())
        .output()
        .context("git cannot be started; install git, the check for a clean tree needs it")?;
    if !output.status.success() {
        bail!("git status failed: {}", String::from_utf8_lossy(&output.stderr).trim());
    }
    let changes = String::from_utf8_lossy(&output.stdout).into_owned();
    if changes.trim().is_empty() {
        return Ok(());
    }
    bail!("the tree is not clean after the tests; commit these or make them go elsewhere:\n{changes}")
}

fn cargo(words: &[&str]) -> Result<()> {
    start(Command::new(machine::cargo()).args(words))
}

/// Starts a program at the root of the workspace and waits for it; its output is ours.
fn start(command: &mut Command) -> Result<()> {
    start_in(".", command, "cargo")
}

/// The same in a folder of the workspace, for a program of another name.
fn start_in(folder: &str, command: &mut Command, name: &str) -> Result<()> {
    let words: Vec<String> = command.get_args().map(|word| word.to_string_lossy().into_owned()).collect();
    let spoken = format!("{name} {}", words.join(" "));
    eprintln!("xtask: {spoken}");
    let place = machine::root().join(folder);
    let status = command.current_dir(place).status().with_context(|| format!("{spoken} cannot be started"))?;
    if status.success() { Ok(()) } else { bail!("{spoken} failed ({status})") }
}
