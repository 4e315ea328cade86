//! `gangion replay`: plays a recorded instrument log and a deck file into a journal.
//!
//! Deck lines go in exactly as they stand and in their order; between them goes the ship's state as the
//! instruments told it. The same files give the same rows, so that playing twice changes nothing.

use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use instruments::replay::{LogDay, replay_states};
use journal::{Answer, Incoming, Journal};
use quantity::UtcInstant;
use serde::Serialize;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use voyage::{Book, Logged, fold, read_event};

use crate::plumbing::{Failure, NoInput, print_json, print_schema, read_bytes, write_line};

/// Events that go to the writer at once.
const BATCH: usize = 2_000;

/// Play an instrument log and a deck file into a journal
#[derive(clap::Args)]
#[command(
    after_help = "Example: gangion replay --instruments underway.nmea --date 2026-03-04 --deck deck.jsonl --journal voyage.journal
  A deck file has one event envelope a line; the set may be left out where only one is open. Lines that are no
  events are named and left out; all others are kept. Playing the same files again changes nothing."
)]
pub struct Args {
    /// Recorded instrument sentences (NMEA 0183), one stream
    #[arg(long, value_name = "FILE", required_unless_present_any = ["schema", "deck"])]
    instruments: Option<String>,
    /// UTC date of the log's first sentence, where its date fields are empty
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<String>,
    /// Deck events, one envelope a line
    #[arg(long, value_name = "FILE")]
    deck: Option<String>,
    /// The journal to write to; made if it is not there
    #[arg(long, value_name = "DB", required_unless_present = "schema")]
    journal: Option<PathBuf>,
    /// Play live, this many times faster than it happened; without it, all at once
    #[arg(long, value_name = "N")]
    speed: Option<f64>,
    /// Answer as JSON
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of the answer and end
    #[arg(long)]
    schema: bool,
}

/// What became of the events.
#[derive(Debug, Serialize, ToSchema)]
pub struct Summary {
    /// The journal's file.
    pub journal: String,
    /// Rows added.
    pub kept: usize,
    /// Events that were there already.
    pub known: usize,
    /// Of the rows, the ship's state as the instruments told it.
    pub ship_states: usize,
    /// Events that contradict a kept one; set aside and shown by `gangion journal verify`.
    pub conflicts: Vec<String>,
    /// Lines that are no events, each with its number and what is wrong.
    pub refused: Vec<String>,
    /// What is doubtful about the instrument log.
    pub doubts: Vec<String>,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<NoInput, Summary>("gangion replay");
    }
    let path = args.journal.as_deref().ok_or_else(|| Failure::BadInput("--journal names no file.".to_owned()))?;
    let date = args.date.as_deref().map(parse_date).transpose()?;
    if let Some(speed) = args.speed.filter(|speed| !(speed.is_finite() && *speed > 0.0)) {
        return Err(Failure::BadInput(format!("--speed {speed} is not a number above 0; nothing was written.")));
    }
    let instruments = args.instruments.as_deref().map(read_bytes).transpose()?.unwrap_or_default();
    let deck = args.deck.as_deref().map(read_bytes).transpose()?.unwrap_or_default();
    let summary = replay(&instruments, date, &deck, path, args.speed)?;
    if args.json {
        return print_json(&summary);
    }
    write_line(&format!(
        "{}: {} rows added ({} of them the ship's state), {} known already, {} conflicts, {} refused",
        summary.journal,
        summary.kept,
        summary.ship_states,
        summary.known,
        summary.conflicts.len(),
        summary.refused.len()
    ))?;
    for line in summary.conflicts.iter().chain(&summary.refused).chain(&summary.doubts) {
        write_line(&format!("  {line}"))?;
    }
    Ok(())
}

/// A calendar day from text.
fn parse_date(text: &str) -> Result<UtcInstant, Failure> {
    let bad = || Failure::BadInput(format!("--date \"{text}\" is not a day such as 2026-03-04; nothing was written."));
    format!("{text}T00:00:00Z").parse().map_err(|_| bad())
}

/// One event on its way into the journal.
pub struct Due {
    /// The envelope.
    pub bytes: Vec<u8>,
    /// When it is played.
    pub at: UtcInstant,
    /// Line of the deck file, from 1; none for the ship's state.
    pub line: Option<usize>,
}

/// Both files as one row of events.
pub struct Prepared {
    /// The events in the order in which they are played.
    pub due: Vec<Due>,
    /// What is doubtful about the instrument log.
    doubts: Vec<String>,
    /// How many of the events are the ship's state.
    ship_states: usize,
}

/// Lines up what both files tell.
pub fn prepare(instruments: &[u8], date: Option<UtcInstant>, deck: &[u8]) -> Prepared {
    let lines: Vec<(usize, &[u8])> = (1..)
        .zip(deck.split(|byte| *byte == b'\n'))
        .map(|(number, line)| (number, line.strip_suffix(b"\r").unwrap_or(line)))
        .filter(|(_, line)| !line.iter().all(u8::is_ascii_whitespace))
        .collect();
    let events: Vec<Logged> = (1..)
        .zip(&lines)
        .filter_map(|(ship_seq, (_, line))| read_event(line).ok().map(|event| Logged { ship_seq, event }))
        .collect();
    let book = fold(&events, None);
    let busy = busy_times(&book);
    let deck_day = events.iter().map(|logged| logged.event.envelope.happened_at).min();
    let day = date.map_or_else(|| LogDay::Computer(deck_day.unwrap_or_else(computer_now)), LogDay::Given);
    let replayed = replay_states(instruments, day, |t| busy.iter().any(|(from, to)| *from <= t && t <= *to));
    let states = state_events(&replayed.states, instruments, deck);
    let ship_states = states.len();
    let due = interleave(states, &lines, &events);
    Prepared { due, doubts: replayed.doubts.iter().map(|doubt| say(doubt, deck_day)).collect(), ship_states }
}

/// Plays both files into the journal at `path`.
///
/// # Errors
/// [`Failure`] when the journal cannot be written; what was acknowledged stays.
pub fn replay(
    instruments: &[u8],
    date: Option<UtcInstant>,
    deck: &[u8],
    path: &Path,
    speed: Option<f64>,
) -> Result<Summary, Failure> {
    let Prepared { due, doubts, ship_states } = prepare(instruments, date, deck);
    let mut summary = Summary {
        journal: path.display().to_string(),
        kept: 0,
        known: 0,
        ship_states: 0,
        conflicts: Vec::new(),
        refused: Vec::new(),
        doubts,
    };
    let journal = Journal::open(path).map_err(Failure::failed)?;
    match speed {
        None => play_at_once(&journal, due, &mut summary)?,
        Some(speed) => play_live(&journal, due, speed, &mut summary)?,
    }
    summary.ship_states = ship_states;
    Ok(summary)
}

fn computer_now() -> UtcInstant {
    std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .ok()
        .and_then(|since| i64::try_from(since.as_micros()).ok())
        .map_or(UtcInstant::from_micros_clamped(0), UtcInstant::from_micros_clamped)
}

/// A doubt of the log in words; without any date the day of the deck's first event stands for the computer's.
fn say(doubt: &instruments::doubt::Doubt, deck_day: Option<UtcInstant>) -> String {
    match deck_day {
        Some(day) if doubt.kind == "date_from_computer" => {
            let (year, month, day) = day.ymd();
            format!(
                "no sentence carries a date and none was given; the day of the first deck event, {year:04}-{month:02}-{day:02}, is used. Give the date with --date."
            )
        }
        _ => doubt.text.clone(),
    }
}

/// When line was going out or coming in, by the deck's own events.
fn busy_times(book: &Book) -> Vec<(UtcInstant, UtcInstant)> {
    let sets = book.voyages.iter().flat_map(|voyage| &voyage.sets);
    sets.flat_map(|set| {
        let far = |from: UtcInstant| from.plus_seconds(86_400.0);
        let setting = (set.started_at, set.ended_at.unwrap_or_else(|| far(set.started_at)));
        let hauling =
            set.parts.iter().map(move |part| (part.started_at, part.ended_at.unwrap_or_else(|| far(part.started_at))));
        std::iter::once(setting).chain(hauling).collect::<Vec<_>>()
    })
    .collect()
}

/// The ship's state as events of a device of its own, whose name says which files it was read from.
fn state_events(states: &[(UtcInstant, Value)], instruments: &[u8], deck: &[u8]) -> Vec<Due> {
    let mut origin = Sha256::new();
    origin.update(instruments);
    origin.update([0]);
    origin.update(deck);
    for (at, _) in states.iter().take(1) {
        origin.update(at.to_string());
    }
    let origin = hex(&origin.finalize()[..6]);
    let device = format!("instruments-{origin}");
    (1_u64..)
        .zip(states)
        .map(|(seq, (at, data))| {
            let mut hash = Sha256::new();
            hash.update(device.as_bytes());
            hash.update(seq.to_be_bytes());
            let envelope = json!({
                "id": id_at(*at, &hash.finalize()[..10]),
                "device": device, "device_seq": seq, "kind": "ship_state", "version": 1,
                "happened_at": at.to_string(), "happened_basis": "instrument",
                "boot": null, "monotonic_ms": null, "person": null, "set": null, "haul": null, "data": data,
            });
            Due { bytes: envelope.to_string().into_bytes(), at: *at, line: None }
        })
        .collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A UUID of version 7 (RFC 9562, section 5.7) whose random part is given, so that it can be made again.
fn id_at(at: UtcInstant, random: &[u8]) -> String {
    let millis = at.micros().max(0) / 1000;
    let mut bytes = [0_u8; 16];
    bytes[..6].copy_from_slice(&millis.to_be_bytes()[2..]);
    for (slot, byte) in bytes[6..].iter_mut().zip(random) {
        *slot = *byte;
    }
    bytes[6] = 0x70 | (bytes[6] & 0x0f);
    bytes[8] = 0x80 | (bytes[8] & 0x3f);
    let text = hex(&bytes);
    format!("{}-{}-{}-{}-{}", &text[..8], &text[8..12], &text[12..16], &text[16..20], &text[20..])
}

/// Deck lines keep their own order; the states stand between them by time.
fn interleave(states: Vec<Due>, lines: &[(usize, &[u8])], events: &[Logged]) -> Vec<Due> {
    let mut times = events.iter().map(|logged| (logged.event.envelope.id.as_str(), logged.event.envelope.happened_at));
    let mut next_time = times.next();
    let mut due = Vec::with_capacity(states.len() + lines.len());
    let mut states = states.into_iter().peekable();
    let mut now = UtcInstant::from_micros_clamped(0);
    for (number, line) in lines {
        if let Ok(event) = read_event(line)
            && next_time.is_some_and(|(id, _)| id == event.envelope.id)
        {
            now = now.max(event.envelope.happened_at);
            next_time = times.next();
        }
        while let Some(state) = states.next_if(|state| state.at <= now) {
            due.push(state);
        }
        due.push(Due { bytes: line.to_vec(), at: now, line: Some(*number) });
    }
    due.extend(states);
    due
}

fn take_answers(batch: &[Due], answers: Vec<Answer>, summary: &mut Summary) {
    for (due, answer) in batch.iter().zip(answers) {
        let place = due.line.map_or_else(|| "ship's state".to_owned(), |line| format!("deck line {line}"));
        match answer {
            Answer::Kept { .. } => summary.kept += 1,
            Answer::Known { .. } => summary.known += 1,
            Answer::Conflict { id, ship_seq, reason } => {
                summary
                    .conflicts
                    .push(format!("{place}: event {id} contradicts row {ship_seq} ({reason}); both are kept."));
            }
            Answer::Refused { reason, .. } => summary.refused.push(format!("{place}: {reason}")),
        }
    }
}

fn send(journal: &Journal, batch: &[Due], summary: &mut Summary) -> Result<(), Failure> {
    let incoming = batch
        .iter()
        .map(|due| Incoming { bytes: due.bytes.clone(), received_at: due.at, received_basis: "replayed".to_owned() })
        .collect();
    let answers = journal.append(incoming).map_err(Failure::failed)?;
    take_answers(batch, answers, summary);
    Ok(())
}

fn play_at_once(journal: &Journal, due: Vec<Due>, summary: &mut Summary) -> Result<(), Failure> {
    let bar = progress(due.len());
    for batch in due.chunks(BATCH) {
        send(journal, batch, summary)?;
        bar.inc(u64::try_from(batch.len()).unwrap_or(0));
    }
    bar.finish_and_clear();
    Ok(())
}

fn play_live(journal: &Journal, due: Vec<Due>, speed: f64, summary: &mut Summary) -> Result<(), Failure> {
    let bar = progress(due.len());
    let begun = std::time::Instant::now();
    let first = due.iter().map(|due| due.at).find(|at| at.micros() > 0);
    let mut rest = due.as_slice();
    while let Some(next) = rest.first() {
        let wait_s = first.map_or(0.0, |first| next.at.seconds_since(first) / speed) - begun.elapsed().as_secs_f64();
        if wait_s > 0.0 {
            std::thread::sleep(std::time::Duration::from_secs_f64(wait_s.min(3600.0)));
            continue;
        }
        let same = rest.iter().take_while(|due| due.at <= next.at).count().max(1);
        send(journal, &rest[..same], summary)?;
        bar.inc(u64::try_from(same).unwrap_or(0));
        rest = &rest[same..];
    }
    bar.finish_and_clear();
    Ok(())
}

/// A bar on a terminal; nothing when piped.
fn progress(length: usize) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(u64::try_from(length).unwrap_or(0)), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} events") {
        bar.set_style(style);
    }
    bar
}
