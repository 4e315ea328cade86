//! `gangion rest`: the least rest in any 24 hours and any seven days, and the earliest start of more work.

use voyage::rest::{RestAnswer, RestAsked, rest};

use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// The least rest in any 24 hours and any 7 days of a person's work, and when the next work can start.
///
/// Give the stretches of work as JSON; those after `at` are planned work. Every rolling window is judged, to the
/// microsecond, never calendar days. Time that is in no stretch counts as rest; stretches in `unknown` are
/// judged both ways. The rule compared with is ILO C188 (2007) Article 14(1)(b): 10 h in any 24 h and 77 h in any 7 days,
/// without its exceptions. Local law and the ship's own papers decide.
#[derive(clap::Args)]
#[command(after_help = "Example: worked 06:00 to 20:00; when can a set of 5 h begin?
  gangion rest --json '{\"intervals\":[{\"from\":\"2026-03-10T06:00:00Z\",\"to\":\"2026-03-10T20:00:00Z\"}],\"next_duration_s\":18000,\"at\":\"2026-03-10T21:00:00Z\"}'")]
pub struct Args {
    /// The person's work: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
///
/// # Errors
/// Bad input when it is not a record of work.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<RestAsked, RestAnswer>("gangion rest");
    }
    let asked: RestAsked = parse_json(&read_text(args.input.as_deref())?, "the record of work")?;
    let answer = rest(&asked).map_err(Failure::bad_input)?;
    if args.json { print_json(&answer) } else { print_plain(&answer) }
}

fn print_plain(answer: &RestAnswer) -> Result<(), Failure> {
    write_line(&format!("Compared with {}.", answer.rule))?;
    for (name, worst) in [("any 24 h", answer.worst_24h), ("any 7 days", answer.worst_7d)] {
        write_line(&format!(
            "Least rest in {name}: {:.1} h of {:.0} h ({}), from {} to {}.",
            worst.rest_s / 3600.0,
            worst.least_rest_s / 3600.0,
            if worst.met { "met" } else { "NOT met" },
            worst.from,
            worst.to
        ))?;
    }
    if let Some(earliest) = answer.earliest_start {
        write_line(&format!("The next work can start from {earliest}."))?;
    }
    for doubt in &answer.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}
