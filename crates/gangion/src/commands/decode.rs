//! `gangion decode`: one JSON object a sentence of an instrument log.

use std::io::Read;

use instruments::clock::DateBasis;
use instruments::decode::{Decoded, Decoder, Heard};
use quantity::UtcInstant;

use crate::plumbing::{Failure, NoInput, print_schema, write_bytes};

/// Decode an instrument log (NMEA 0183 and AIS), one object a sentence.
#[derive(clap::Args)]
#[command(after_help = "Example:
  printf '$SDDBT,7.8,f,2.4,M,1.3,F*0D\\n' | gangion decode - --json
  {\"line\":1,\"ok\":true,…,\"talker\":\"SD\",\"type\":\"DBT\",…,\"depth_below_transducer_m\":2.4,…}

Sentences that carry a time but no date get the day of the last RMC or ZDA, else the day of --date; without either
time_utc is null. What is rejected comes with ok false and a reason. Absent is null, never 0.")]
pub struct Args {
    /// The log, or - for stdin.
    #[arg(required_unless_present = "schema")]
    file: Option<String>,
    /// One JSON object a line.
    #[arg(long)]
    json: bool,
    /// UTC day of the log's first time, for logs without dates.
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<String>,
    /// Accept sentences without a checksum.
    #[arg(long)]
    lenient: bool,
    /// Print the JSON Schema of the objects.
    #[arg(long)]
    schema: bool,
}

/// The UTC day that a `--date` names.
pub fn day_of(date: Option<&str>) -> Result<Option<UtcInstant>, Failure> {
    let Some(text) = date else { return Ok(None) };
    let refuse = || Failure::BadInput(format!("--date {text} is not a day such as 2026-03-04; nothing was read."));
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return Err(refuse()) };
    if [year.len(), month.len(), day.len()] != [4, 2, 2] {
        return Err(refuse());
    }
    let (Ok(year), Ok(month), Ok(day)) = (year.parse(), month.parse(), day.parse()) else { return Err(refuse()) };
    UtcInstant::from_ymd(year, month, day).map(Some).map_err(|_| refuse())
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<NoInput, Decoded>("gangion decode: one object a line");
    }
    let day = day_of(args.date.as_deref())?;
    let path = args.file.as_deref().unwrap_or("-");
    let unreadable = |error: std::io::Error| Failure::BadInput(format!("{path} cannot be read ({error})."));
    let mut input: Box<dyn Read> = if path == "-" {
        Box::new(std::io::stdin().lock())
    } else {
        Box::new(std::fs::File::open(path).map_err(unreadable)?)
    };
    let mut decoder = Decoder::new(args.lenient, day, DateBasis::Given);
    let mut chunk = vec![0_u8; 1 << 16];
    loop {
        let mut lines = String::new();
        let mut failed = None;
        let mut keep = |heard: Heard<'_>| match line_of(&Decoded::from_heard(&heard), &heard, args.json) {
            Ok(line) => {
                lines.push_str(&line);
                lines.push('\n');
            }
            Err(failure) => failed = Some(failure),
        };
        let length = input.read(&mut chunk).map_err(unreadable)?;
        if length == 0 {
            decoder.finish(&mut keep);
        } else {
            decoder.push(&chunk[..length], &mut keep);
        }
        write_bytes(lines.as_bytes())?;
        if let Some(failure) = failed {
            return Err(failure);
        }
        if length == 0 {
            return Ok(());
        }
    }
}

/// A record as one line: compact JSON, or the sentence with its verdict for reading.
fn line_of(record: &Decoded, heard: &Heard<'_>, json: bool) -> Result<String, Failure> {
    if json {
        return serde_json::to_string(record).map_err(Failure::failed);
    }
    let raw = instruments::frame::text_of(heard.framed.raw);
    let verdict = match (&record.reason, record.ok) {
        (Some(reason), true) => format!("ok, but {reason}"),
        (Some(reason), false) => format!("rejected: {reason}"),
        (None, _) => "ok".to_owned(),
    };
    let place = match (record.latitude_deg, record.longitude_deg) {
        (Some(latitude_deg), Some(longitude_deg)) => format!("  {latitude_deg:.5}° {longitude_deg:.5}°"),
        _ => String::new(),
    };
    let time = record.time_utc.map(|utc| format!("  {utc}")).unwrap_or_default();
    Ok(format!("{:>6}  {raw}  {verdict}{time}{place}", record.line))
}
