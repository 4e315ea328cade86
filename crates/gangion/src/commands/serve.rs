//! `gangion serve`: the ship's server with its journal, its instruments, and the demo where it is asked for.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use bridge::{Limits, Page, Server, Setup, Ship};
use instruments::sources::Source;

use crate::feed::{Feed, parse_source};
use crate::playing;
use crate::plumbing::{Failure, write_line};
use crate::sounding;

/// The journal within the data folder.
const JOURNAL: &str = "voyage.journal";
/// Backups are made by themselves that often, where something was kept since the last one.
const BACKUP_EVERY: Duration = Duration::from_secs(6 * 3_600);

/// Serve the ship: take events, show the voyage, tell what happens as it happens
#[derive(clap::Args)]
#[command(after_help = "Examples:
  gangion serve --data voyage --demo
  gangion serve --data voyage --bind 192.168.8.2:8180 --host ship.home.arpa --nmea tcp:192.168.8.20:10110
  gangion serve --data voyage --bind 192.168.8.2:8180 --https 192.168.8.2:8443 --name ship.home.arpa
  gangion serve --data voyage --nmea serial:/dev/ttyUSB0@4800 --nmea udp:0.0.0.0:10110 --backups /media/stick

  Only this computer is served unless --bind names an address of the ship's network. Other devices are paired from
  this computer by a code. With --https the ship has a certificate authority of its own, good for its own names and
  addresses only; a tablet is enrolled at the page /enrol and then works without the network too. An interrupt (Ctrl-C) stops the server; what is in hand is finished first.")]
pub struct Args {
    /// Folder of the journal and the list of paired devices; made if it is not there
    #[arg(long, value_name = "DIR", required_unless_present = "sound_test")]
    data: Option<PathBuf>,
    /// Address to listen on; port 0 takes a free one
    #[arg(long, visible_alias = "listen", value_name = "ADDR:PORT", default_value = "127.0.0.1:8180")]
    bind: SocketAddr,
    /// Address to serve https on, beside the plain one
    #[arg(long, value_name = "ADDR:PORT")]
    https: Option<SocketAddr>,
    /// A further name by which browsers call the ship; may be given again
    #[arg(long = "host", visible_alias = "name", value_name = "NAME")]
    hosts: Vec<String>,
    /// Instruments: tcp:HOST:PORT, udp:ADDR:PORT or serial:PATH@BAUD; may be given again
    #[arg(long, value_name = "SOURCE")]
    nmea: Vec<String>,
    /// Folder for verified backups, best on another disk; made every 6 hours and when asked for
    #[arg(long, value_name = "DIR")]
    backups: Option<PathBuf>,
    /// Folder of the built screens, in place of those in the program
    #[arg(long, value_name = "DIR")]
    screens: Option<PathBuf>,
    /// Play the demo voyage into the data folder: the first set at once, the second up to the end of its soak
    #[arg(long)]
    demo: bool,
    /// Sound the beat on this computer's own loudspeaker
    #[arg(long)]
    sound: bool,
    /// Sound each tone of the beat once, with its name, and stop
    #[arg(long, conflicts_with_all = ["demo", "sound"])]
    sound_test: bool,
    /// How many times faster than it happened the demo's second set is played
    #[arg(long, value_name = "N", requires = "demo", default_value_t = 60.0)]
    speed: f64,
}

/// Runs the command; it ends when it is told to.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.sound_test {
        return sounding::test();
    }
    if !(args.speed.is_finite() && args.speed > 0.0) {
        return Err(Failure::BadInput(format!("--speed {} is not a number above 0; nothing was started.", args.speed)));
    }
    let sources: Vec<Source> = args.nmea.iter().map(|text| parse_source(text)).collect::<Result<_, _>>()?;
    for host in &args.hosts {
        if host.is_empty() || !host.bytes().all(|byte| byte.is_ascii_alphanumeric() || b".-".contains(&byte)) {
            return Err(Failure::BadInput(format!("--host \"{host}\" is not a host name; nothing was started.")));
        }
    }
    let voice = args.sound.then(sounding::voice).transpose()?;
    keep_memory_in_one_arena();
    let pages = args.screens.as_deref().map(screens).transpose()?.unwrap_or_default();
    let data = args.data.clone().unwrap_or_default();
    std::fs::create_dir_all(&data).map_err(|error| {
        Failure::Failed(format!("the folder {} cannot be made ({error}); nothing was started.", data.display()))
    })?;
    let limits = Limits::default();
    let ship = Arc::new(Ship::open(&data.join(JOURNAL), limits.live_behind).map_err(Failure::failed)?);
    let demo = if args.demo { Some(playing::begin(&ship)?) } else { None };
    if args.demo {
        crate::demo::tables::write(&data).map_err(|error| {
            let folder = data.display();
            Failure::Failed(format!(
                "the demo's tables cannot be written into {folder} ({error}); nothing was started."
            ))
        })?;
    }
    let setup = Setup {
        backups: args.backups.clone(),
        backup_every: Some(BACKUP_EVERY),
        names: args.hosts.clone(),
        https: args.https,
        pages,
        stop_on_signals: true,
        voice,
        limits,
        ..Setup::new(&data)
    };
    let server = Server::start(Arc::clone(&ship), setup, args.bind).map_err(Failure::failed)?;
    let address = server.address();
    if address.ip().is_loopback() || address.ip().is_unspecified() {
        write_line(&format!("Gangion serves this computer at http://localhost:{}/", address.port()))?;
    }
    for other in server.for_others() {
        write_line(&format!("and devices that are paired at {other}"))?;
    }
    for unvouched in server.unvouched() {
        write_line(&format!(
            "The ship's certificate authority was not made for {unvouched}: no tablet will trust https there. Move \
             {} away to make another one; each tablet has to be enrolled again then.",
            data.join("authority.json").display()
        ))?;
    }
    if let Some(https) = server.https_address() {
        let plain = server.for_others().iter().find(|other| other.starts_with("http://"));
        match plain {
            Some(plain) => write_line(&format!("Tablets are enrolled for https at {plain}enrol"))?,
            None => write_line(&format!(
                "https is served at {https}, but no plain address is open to tablets to be enrolled at: give --bind one."
            ))?,
        }
    }
    let feed = Feed::start(&ship, sources, &data);
    let player = demo.map(|demo| demo.play_on(&ship, args.speed));
    server.wait();
    drop(feed);
    drop(player);
    write_line("Gangion has stopped; what was acknowledged is kept.")
}

/// Starts this same program again, in its own place, with one arena of memory for all threads.
///
/// By default each thread keeps what memory it once needed for itself, so that a fold or a large answer is paid for by
/// every thread that ever made one: 125 MB instead of 69 MB with the demo, ten screens and their views. Source: the
/// GNU C Library manual, "Memory Allocation Tunables" (glibc.malloc.arena_max) and mallopt(3). Elsewhere it changes
/// nothing; where it cannot be done the server runs as it is.
#[cfg(unix)]
fn keep_memory_in_one_arena() {
    const NAME: &str = "MALLOC_ARENA_MAX";
    if std::env::var_os(NAME).is_some() {
        return;
    }
    if let Ok(program) = std::env::current_exe() {
        let mut again = std::process::Command::new(program);
        let _ = std::os::unix::process::CommandExt::exec(again.args(std::env::args_os().skip(1)).env(NAME, "1"));
    }
}

#[cfg(not(unix))]
fn keep_memory_in_one_arena() {}

/// Every file of a folder of built screens, read once.
fn screens(folder: &Path) -> Result<Vec<Page>, Failure> {
    let unreadable = |path: &Path, error: std::io::Error| {
        Failure::BadInput(format!("the screens in {} cannot be read ({error}); nothing was started.", path.display()))
    };
    let mut pages = Vec::new();
    let mut open = vec![folder.to_owned()];
    while let Some(inner) = open.pop() {
        let entries = std::fs::read_dir(&inner).map_err(|error| unreadable(&inner, error))?;
        for entry in entries.flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
                continue;
            }
            let bytes = std::fs::read(&path).map_err(|error| unreadable(&path, error))?;
            let name = path.strip_prefix(folder).unwrap_or(&path).to_string_lossy().replace('\\', "/");
            pages.push(Page::of_build(format!("/{name}"), bytes));
        }
    }
    if !pages.iter().any(|page| page.path == "/index.html") {
        return Err(Failure::BadInput(format!("{} holds no index.html; nothing was started.", folder.display())));
    }
    Ok(pages)
}
