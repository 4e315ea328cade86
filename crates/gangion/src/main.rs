//! The ship's program: every calculation and every record as a command.

mod book;
mod commands;
mod demo;
mod plumbing;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// The working tool of the fishing master of a pelagic tuna longliner. Not for navigation.
#[derive(Parser)]
#[command(version, about)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Replay(commands::replay::Args),
    Report(commands::report::Args),
    Hooks(commands::hooks::Args),
    Decode(commands::decode::Args),
    Track(commands::track::Args),
    Demo(commands::demo::Args),
    Sky(commands::sky::Args),
    Geodesic(commands::geodesic::Args),
    Setting(commands::setting::Args),
    Depth(commands::depth::Args),
    Journal(commands::journal::Args),
}

fn main() -> ExitCode {
    let line = Line::parse();
    let outcome: Result<(), plumbing::Failure> = match line.command {
        Command::Replay(args) => commands::replay::run(&args),
        Command::Report(args) => commands::report::run(&args),
        Command::Hooks(args) => commands::hooks::run(&args),
        Command::Decode(args) => commands::decode::run(&args),
        Command::Track(args) => commands::track::run(&args),
        Command::Demo(args) => commands::demo::run(&args),
        Command::Sky(args) => commands::sky::run(&args),
        Command::Geodesic(args) => commands::geodesic::run(&args),
        Command::Setting(args) => commands::setting::run(&args),
        Command::Depth(args) => commands::depth::run(&args),
        Command::Journal(args) => commands::journal::run(&args),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("gangion: {failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}
