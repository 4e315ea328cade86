//! The server itself: connections, their limits, and a stop that finishes what is in hand.
//!
//! HTTP/1.1 (RFC 9112), plain and, where it is wanted, by TLS beside it. A connection that is slow with its head, or does not read what is sent to it, is cut.

use std::collections::BTreeMap;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::Router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use rustls::ServerConfig;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;
use tokio::time::{Instant, Sleep};
use tokio_rustls::TlsAcceptor;

use crate::app::{App, Setup, blocking, router};
use crate::authority::AuthorityError;
use crate::beat::keeper::Keeper;
use crate::crew::CrewError;
use crate::gate::Ends;
use crate::limits::Limits;
use crate::ship::Ship;

/// Why the server does not run.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The address cannot be listened on.
    #[error(
        "the address {address} cannot be listened on ({source}); another program may have it. Choose another --bind"
    )]
    Address {
        /// The address.
        address: SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// The system gives no threads.
    #[error("the server cannot be started ({source}); nothing was changed")]
    Start {
        /// What the system said.
        source: io::Error,
    },
    /// The ship's certificate authority cannot be used.
    #[error("{text}")]
    Authority {
        /// In words.
        text: String,
    },
    /// The list of paired devices cannot be used.
    #[error("{text}")]
    Devices {
        /// In words.
        text: String,
    },
}

impl From<CrewError> for ServeError {
    fn from(error: CrewError) -> Self {
        Self::Devices { text: error.to_string() }
    }
}

impl From<AuthorityError> for ServeError {
    fn from(error: AuthorityError) -> Self {
        Self::Authority { text: error.to_string() }
    }
}

/// A server that runs until it is stopped or dropped.
#[derive(Debug)]
pub struct Server {
    address: SocketAddr,
    https_address: Option<SocketAddr>,
    for_others: Vec<String>,
    unvouched: Vec<String>,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
    keeper: Option<Keeper>,
}

impl Server {
    /// Starts a server on a thread of its own.
    ///
    /// # Errors
    /// [`ServeError`] when the address is taken or the list of devices cannot be read.
    pub fn start(ship: Arc<Ship>, setup: Setup, address: SocketAddr) -> Result<Self, ServeError> {
        let (listener, address) = listen(address)?;
        let https = setup.https.map(listen).transpose()?;
        let https_address = https.as_ref().map(|(_, address)| *address);
        let app = Arc::new(App::new(ship, setup, address, https_address)?);
        let secure = app.secure.as_ref();
        let for_others: Vec<String> = app.own_addresses.iter().chain(&app.secure_addresses).cloned().collect();
        let unvouched = secure.map_or_else(Vec::new, |secure| {
            secure.unvouched(&https_address.iter().map(|at| at.ip()).filter(|ip| !ip.is_unspecified()).collect())
        });
        let tls = secure.map(crate::tls::config).transpose()?;
        let keeper = Keeper::start(&app).map_err(|source| ServeError::Start { source })?;
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            // Each thread keeps what memory it once needed; posts wait for one flush together, so that few are enough.
            .max_blocking_threads(6)
            .enable_all()
            .thread_name("bridge")
            .build()
            .map_err(|source| ServeError::Start { source })?;
        let (listener, https) = {
            let _inside = runtime.enter();
            let tokio = |listener| TcpListener::from_std(listener).map_err(|source| ServeError::Start { source });
            (tokio(listener)?, https.map(|(listener, _)| tokio(listener)).transpose()?)
        };
        let doors = Doors { plain: listener, secure: https.zip(tls) };
        let (stop, stopped) = oneshot::channel();
        let thread = std::thread::Builder::new()
            .name("bridge-server".to_owned())
            .spawn(move || {
                runtime.block_on(accept(&app, doors, stopped));
                runtime.shutdown_timeout(app.limits.stop_time);
            })
            .map_err(|source| ServeError::Start { source })?;
        Ok(Self {
            address,
            https_address,
            for_others,
            unvouched,
            stop: Some(stop),
            thread: Some(thread),
            keeper: Some(keeper),
        })
    }

    /// Where it listens.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Where it listens for https.
    #[must_use]
    pub const fn https_address(&self) -> Option<SocketAddr> {
        self.https_address
    }

    /// Names and addresses for which the ship's certificate authority was not made: no tablet will trust them.
    #[must_use]
    pub fn unvouched(&self) -> &[String] {
        &self.unvouched
    }

    /// The addresses to open on other devices; none while only this computer is served by no further name.
    #[must_use]
    pub fn for_others(&self) -> &[String] {
        &self.for_others
    }

    /// Waits until the server ends by a signal (see [`Setup::stop_on_signals`]).
    pub fn wait(mut self) {
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }

    /// Stops: takes nothing new, ends live streams with a word, finishes what is in hand. Waits for it.
    pub fn stop(mut self) {
        self.finish();
    }

    fn finish(&mut self) {
        self.stop = None;
        self.keeper = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.finish();
    }
}

/// Open connections, counted by address.
#[derive(Debug, Default)]
struct Open(Mutex<BTreeMap<IpAddr, usize>>);

/// One open connection.
struct Counted {
    open: Arc<Open>,
    peer: IpAddr,
}

impl Counted {
    fn take(open: &Arc<Open>, peer: IpAddr, most: usize, most_each: usize) -> Option<Self> {
        let mut counts = open.0.lock().unwrap_or_else(PoisonError::into_inner);
        let own = counts.get(&peer).copied().unwrap_or(0);
        let most_each = if peer.is_loopback() { most } else { most_each };
        if counts.values().sum::<usize>() >= most || own >= most_each {
            return None;
        }
        counts.insert(peer, own + 1);
        Some(Self { open: Arc::clone(open), peer })
    }
}

impl Drop for Counted {
    fn drop(&mut self) {
        let mut counts = self.open.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = counts.get_mut(&self.peer) {
            *count -= 1;
            if *count == 0 {
                counts.remove(&self.peer);
            }
        }
    }
}

/// Where the server is entered.
struct Doors {
    plain: TcpListener,
    secure: Option<(TcpListener, Arc<ServerConfig>)>,
}

impl Doors {
    /// The next connection, and how to make it secure where it has to be.
    async fn next(&self) -> io::Result<(TcpStream, SocketAddr, Option<Arc<ServerConfig>>)> {
        let Some((secure, tls)) = &self.secure else {
            return self.plain.accept().await.map(|(stream, peer)| (stream, peer, None));
        };
        tokio::select! {
            plain = self.plain.accept() => plain.map(|(stream, peer)| (stream, peer, None)),
            secure = secure.accept() => secure.map(|(stream, peer)| (stream, peer, Some(Arc::clone(tls)))),
        }
    }
}

fn listen(address: SocketAddr) -> Result<(std::net::TcpListener, SocketAddr), ServeError> {
    let taken = |source| ServeError::Address { address, source };
    let listener = std::net::TcpListener::bind(address).map_err(taken)?;
    listener.set_nonblocking(true).map_err(taken)?;
    let address = listener.local_addr().map_err(taken)?;
    Ok((listener, address))
}

async fn accept(app: &Arc<App>, doors: Doors, mut stop: oneshot::Receiver<()>) {
    let routes = router(app);
    let open = Arc::new(Open::default());
    let graceful = GracefulShutdown::new();
    let mut told = std::pin::pin!(told_to_end(app.stop_on_signals));
    let backups = app.backup_every.map(|every| tokio::spawn(back_up(Arc::clone(app), every)));
    loop {
        let accepted = tokio::select! {
            accepted = doors.next() => accepted,
            // A word or a dropped handle: both mean stop.
            _ = &mut stop => break,
            () = &mut told => break,
        };
        let Ok((stream, peer, tls)) = accepted else {
            // Out of file handles, say; those in use will come back.
            tokio::time::sleep(Duration::from_millis(50)).await;
            continue;
        };
        let Ok(local) = stream.local_addr() else { continue };
        let ends = Ends { peer, local, secure: tls.is_some() };
        let limits = &app.limits;
        let peer = peer.ip().to_canonical();
        let Some(counted) = Counted::take(&open, peer, limits.connections, limits.connections_each) else { continue };
        // Small answers go out at once; a stream that cannot be told so is only slower.
        let _ = stream.set_nodelay(true);
        let stream = Watched::new(stream, limits.stall_time);
        let Some(tls) = tls else {
            let connection = graceful.watch(serve(stream, ends, &routes, limits));
            tokio::spawn(async move {
                // What goes wrong with one connection concerns that client only; it comes again.
                let _ = connection.await;
                drop(counted);
            });
            continue;
        };
        if let Some(secure) = &app.secure {
            secure.look(local.ip().to_canonical(), crate::tls::unix_now_s());
        }
        let (app, routes, watcher) = (Arc::clone(app), routes.clone(), graceful.watcher());
        tokio::spawn(async move {
            let shaken = TlsAcceptor::from(tls).accept(stream);
            // Who does not finish his handshake is cut like one who does not finish his request.
            if let Ok(Ok(stream)) = tokio::time::timeout(app.limits.head_time, shaken).await {
                let _ = watcher.watch(serve(stream, ends, &routes, &app.limits)).await;
            }
            drop(counted);
        });
    }
    drop(doors);
    if let Some(backups) = backups {
        backups.abort();
    }
    app.stopping.send_replace(true);
    // Those who do not finish in time are cut when the runtime ends.
    let _ = tokio::time::timeout(app.limits.stop_time, graceful.shutdown()).await;
}

/// Ends when the system or a person says so (interrupt, or terminate); never where that is not wanted.
async fn told_to_end(wanted: bool) {
    if !wanted {
        return std::future::pending().await;
    }
    let interrupted = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminated = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => drop(signal.recv().await),
            Err(_) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let terminated = std::future::pending::<()>();
    tokio::select! {
        () = interrupted => {}
        () = terminated => {}
    }
}

/// Makes a verified backup at intervals, where something has been kept since the last one.
async fn back_up(app: Arc<App>, every: Duration) {
    loop {
        tokio::time::sleep(every).await;
        let held = app.last_backup().map_or(0, |backup| backup.rows);
        if u64::try_from(app.ship.cursor().sequence).is_ok_and(|now| now > held) {
            // One that fails shows in /api/health by its absence; the next try comes.
            let _ = blocking(&app, crate::rows::make_backup).await;
        }
    }
}

/// One connection with its limits. The two ends are put beside each of its requests, before the gate sees them.
fn serve<S: AsyncRead + AsyncWrite + Unpin>(
    stream: S,
    ends: Ends,
    routes: &Router,
    limits: &Limits,
) -> http1::Connection<TokioIo<S>, TowerToHyperService<Router>> {
    let service = TowerToHyperService::new(routes.clone().layer(axum::Extension(ends)));
    http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.head_time)
        .max_buf_size(65_536)
        .serve_connection(TokioIo::new(stream), service)
}

/// A connection whose other end has to read: bytes that nobody takes for too long are an error.
struct Watched {
    stream: TcpStream,
    patience: Duration,
    stalled: Option<Pin<Box<Sleep>>>,
}

impl Watched {
    fn new(stream: TcpStream, patience: Duration) -> Self {
        Self { stream, patience, stalled: None }
    }

    fn judge<T>(&mut self, context: &mut Context<'_>, written: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.stalled = None;
            return written;
        }
        let until = Instant::now() + self.patience;
        let stalled = self.stalled.get_or_insert_with(|| Box::pin(tokio::time::sleep_until(until)));
        match stalled.as_mut().poll(context) {
            Poll::Ready(()) => Poll::Ready(Err(io::ErrorKind::TimedOut.into())),
            Poll::Pending => Poll::Pending,
        }
    }
}

impl AsyncRead for Watched {
    fn poll_read(mut self: Pin<&mut Self>, context: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, into)
    }
}

impl AsyncWrite for Watched {
    fn poll_write(mut self: Pin<&mut Self>, context: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.judge(context, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        pieces: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(context, pieces);
        self.judge(context, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let flushed = Pin::new(&mut self.stream).poll_flush(context);
        self.judge(context, flushed)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
