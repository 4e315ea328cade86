//! The ship's program: every calculation and every record as a command.

mod book;
mod commands;
mod demo;
mod feed;
mod gear_input;
mod playing;
mod plumbing;
mod settle_times;
mod sounding;

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
    Serve(commands::serve::Args),
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
    Settle(commands::settle::Args),
    Soak(commands::soak::Args),
    Calibrate(commands::calibrate::Args),
    Advise(commands::advise::Args),
    Ahead(commands::ahead::Args),
    Plan(commands::plan::Args),
    Rest(commands::rest::Args),
    Buoys(commands::buoys::Args),
    Ends(commands::ends::Args),
    Journal(commands::journal::Args),
}

/// Help and version as they are; a fault of the command line as one sentence.
fn not_understood(error: &clap::Error) -> ExitCode {
    use clap::error::ErrorKind;
    if !error.use_stderr() || error.kind() == ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand {
        // A closed pipe is a normal end.
        let _ = error.print();
        return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
    }
    let text = error.render().to_string();
    let sentence: Vec<&str> = text.lines().take_while(|line| !line.trim().is_empty()).map(str::trim).collect();
    let sentence = sentence.join(" ");
    eprintln!("gangion: {}; --help tells more.", sentence.trim_start_matches("error: ").trim_end_matches('.'));
    ExitCode::from(2)
}

fn main() -> ExitCode {
    let line = match Line::try_parse() {
        Ok(line) => line,
        Err(error) => return not_understood(&error),
    };
    let outcome: Result<(), plumbing::Failure> = match line.command {
        Command::Serve(args) => commands::serve::run(&args),
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
        Command::Settle(args) => commands::settle::run(&args),
        Command::Soak(args) => commands::soak::run(&args),
        Command::Calibrate(args) => commands::calibrate::run(&args),
        Command::Advise(args) => commands::advise::run(&args),
        Command::Ahead(args) => commands::ahead::run(&args),
        Command::Plan(args) => commands::plan::run(&args),
        Command::Rest(args) => commands::rest::run(&args),
        Command::Buoys(args) => commands::buoys::run(&args),
        Command::Ends(args) => commands::ends::run(&args),
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
