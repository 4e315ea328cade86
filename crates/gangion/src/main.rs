//! The ship's program: every calculation and every record as a command.

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
    Demo(commands::demo::Args),
}

fn main() -> ExitCode {
    let line = Line::parse();
    let outcome: Result<(), plumbing::Failure> = match line.command {
        Command::Demo(args) => commands::demo::run(&args),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("gangion: {failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}
