//! Live bytes from files, TCP, UDP and serial ports, each on a plain thread, handed on through a channel.
//!
//! A source that fails or ends says so and its thread ends; whoever owns the receiver decides when to try again.
//! Dropping the receiver ends a source at its next bytes or time-out.

use std::io::Read;
use std::net::{TcpStream, UdpSocket};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, SystemTime};

/// How long a read waits before it looks whether anybody still listens.
const WAIT: Duration = Duration::from_millis(500);

/// Where bytes come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// A file, read once to its end.
    File(PathBuf),
    /// A TCP server, `host:port`.
    Tcp(String),
    /// A UDP port on this machine, `address:port`; each datagram is one chunk.
    Udp(String),
    /// A serial port, 8N1: 4800 baud is usual, 38400 for AIS and gyros.
    Serial {
        /// Path of the port.
        path: String,
        /// Speed, bits a second.
        baud: u32,
    },
}

/// What a source hands on.
#[derive(Debug)]
pub enum FromSource {
    /// Bytes and the moment when they came.
    Bytes(Vec<u8>, SystemTime),
    /// It has ended.
    Ended,
    /// It has failed.
    Failed(SourceError),
}

/// Why a source gives nothing.
#[derive(Debug, thiserror::Error)]
pub enum SourceError {
    /// It cannot be opened.
    #[error("the instrument source {name} cannot be opened ({error}); check cable, address and power")]
    Open {
        /// What it is called.
        name: String,
        /// The machine's own word.
        error: std::io::Error,
    },
    /// It broke while reading.
    #[error("the instrument source {name} broke off ({error}); what came before is kept")]
    Read {
        /// What it is called.
        name: String,
        /// The machine's own word.
        error: std::io::Error,
    },
}

impl Source {
    /// What to call it in words to people.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::File(path) => path.display().to_string(),
            Self::Tcp(address) => format!("TCP {address}"),
            Self::Udp(address) => format!("UDP {address}"),
            Self::Serial { path, baud } => format!("{path} at {baud} baud"),
        }
    }

    fn open(&self) -> std::io::Result<Box<dyn Read + Send>> {
        Ok(match self {
            Self::File(path) => Box::new(std::fs::File::open(path)?),
            Self::Tcp(address) => {
                let stream = TcpStream::connect(address)?;
                stream.set_read_timeout(Some(WAIT))?;
                Box::new(stream)
            }
            Self::Udp(address) => {
                let socket = UdpSocket::bind(address)?;
                socket.set_read_timeout(Some(WAIT))?;
                Box::new(Datagrams(socket))
            }
            Self::Serial { path, baud } => Box::new(serialport::new(path, *baud).timeout(WAIT).open()?),
        })
    }
}

struct Datagrams(UdpSocket);

impl Read for Datagrams {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        loop {
            // An empty datagram is not an end.
            match self.0.recv(buffer)? {
                0 => {}
                length => return Ok(length),
            }
        }
    }
}

/// Opens a source and reads it on a thread of its own.
///
/// # Errors
/// [`SourceError::Open`] when it cannot be opened.
pub fn listen(source: &Source) -> Result<(Receiver<FromSource>, JoinHandle<()>), SourceError> {
    let name = source.name();
    let reader = source.open().map_err(|error| SourceError::Open { name: name.clone(), error })?;
    let (sender, receiver) = channel();
    let thread = std::thread::spawn(move || read_on(reader, &name, &sender));
    Ok((receiver, thread))
}

fn read_on(mut reader: Box<dyn Read + Send>, name: &str, sender: &Sender<FromSource>) {
    use std::io::ErrorKind::{Interrupted, TimedOut, WouldBlock};
    let mut buffer = vec![0_u8; 65_536];
    loop {
        let message = match reader.read(&mut buffer) {
            Ok(0) => FromSource::Ended,
            Ok(length) => FromSource::Bytes(buffer[..length].to_vec(), SystemTime::now()),
            // An empty chunk asks whether anybody still listens.
            Err(error) if matches!(error.kind(), Interrupted | TimedOut | WouldBlock) => {
                FromSource::Bytes(Vec::new(), SystemTime::now())
            }
            Err(error) => FromSource::Failed(SourceError::Read { name: name.to_owned(), error }),
        };
        let last = !matches!(message, FromSource::Bytes(..));
        if sender.send(message).is_err() || last {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    fn first_bytes(receiver: &Receiver<FromSource>) -> Vec<u8> {
        loop {
            match receiver.recv_timeout(Duration::from_secs(10)).unwrap() {
                FromSource::Bytes(bytes, _) if bytes.is_empty() => {}
                FromSource::Bytes(bytes, _) => return bytes,
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn verif_tcp_and_udp_over_the_loopback() {
        let server = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let (receiver, thread) = listen(&Source::Tcp(server.local_addr().unwrap().to_string())).unwrap();
        let (mut peer, _) = server.accept().unwrap();
        peer.write_all(b"$GPHDT,274.07,T*03\r\n").unwrap();
        assert_eq!(first_bytes(&receiver), b"$GPHDT,274.07,T*03\r\n");
        drop(peer);
        while !matches!(receiver.recv_timeout(Duration::from_secs(10)).unwrap(), FromSource::Ended) {}
        thread.join().unwrap();

        let free = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap().to_string();
        let (receiver, _thread) = listen(&Source::Udp(free.clone())).unwrap();
        let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
        sender.send_to(b"$INMTW,17.9,C*1B\r\n", &free).unwrap();
        assert_eq!(first_bytes(&receiver), b"$INMTW,17.9,C*1B\r\n");
    }

    #[test]
    fn verif_what_cannot_be_opened_says_so() {
        let error = listen(&Source::File("/no/such/file".into())).unwrap_err();
        assert!(error.to_string().contains("/no/such/file"));
        assert!(listen(&Source::Serial { path: "/no/such/port".into(), baud: 4800 }).is_err());
    }
}
