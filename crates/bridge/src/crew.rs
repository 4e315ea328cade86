//! Who is let in: paired devices with their roles, the open pairing code, the wheelhouse's PIN.
//!
//! Kept in one small file beside the journal, written anew as a whole at each change and readable by its owner only.
//! It holds hashes of tokens and of the PIN, never the secrets themselves; losing it costs a new pairing, no event.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use tokio::sync::watch;

use crate::limits::{Limits, Tries};
use crate::role::Role;
use crate::secret::{self, SecretError};

/// A device that has been paired.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Device {
    pub(crate) device: String,
    pub(crate) name: Option<String>,
    pub(crate) role: Role,
    /// RFC 3339.
    pub(crate) paired_at: String,
    pub(crate) revoked_at: Option<String>,
    /// Its token came by https and opens nothing elsewhere; without, it came by plain http, likewise.
    #[serde(default)]
    pub(crate) secure: bool,
    token_hash: String,
}

#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Kept {
    #[serde(default)]
    pin_hash: Option<String>,
    #[serde(default)]
    devices: Vec<Device>,
}

/// A code that the wheelhouse has shown to somebody.
#[derive(Debug, Clone)]
pub(crate) struct OpenCode {
    pub(crate) code: String,
    pub(crate) role: Role,
    pub(crate) name: Option<String>,
    pub(crate) tries_left: u32,
    pub(crate) until: Instant,
}

#[derive(Debug, Default)]
struct Inner {
    kept: Kept,
    code: Option<OpenCode>,
    code_tries: Tries,
    /// Hashes of the tokens with which the wheelhouse is open: since when, and whether by https.
    open: BTreeMap<String, (Instant, bool)>,
}

/// Why somebody was not let in, or a change was not made.
#[derive(Debug, thiserror::Error)]
pub(crate) enum CrewError {
    #[error("the code is wrong, used up or too old; ask the wheelhouse for a new one")]
    CodeNotValid,
    #[error("the PIN is wrong; the wheelhouse stays closed")]
    PinWrong,
    #[error("too many wrong tries; wait {wait_s:.0} s")]
    Wait { wait_s: f64 },
    #[error(
        "a wheelhouse is paired by https only: over plain http it could be overheard. Start the ship's program with --https, or choose another role"
    )]
    NotOverPlainHttp,
    #[error(
        "the code was sent over plain http and may have been overheard, so it is void; open the ship's https address and ask for a new one"
    )]
    Overheard,
    #[error("a wheelhouse elsewhere needs the wheelhouse's PIN; set one first")]
    NoPin,
    #[error("{what} has {length} characters; it may have {least} to {most}, without control characters")]
    Length { what: &'static str, length: usize, least: usize, most: usize },
    #[error("device ids that begin with \"{prefix}\" belong to the ship itself; nothing was paired")]
    ShipsOwn { prefix: &'static str },
    #[error("no device {device} is paired")]
    NoSuchDevice { device: String },
    #[error(transparent)]
    Secret(#[from] SecretError),
    #[error("the list of devices could not be written ({source}); nothing was changed. Free some space")]
    Unwritten { source: std::io::Error },
    #[error("{} is not a list of devices of this program ({why}); nothing was changed. Move it away to pair all anew", path.display())]
    Foreign { path: PathBuf, why: String },
}

/// The list of who is let in.
#[derive(Debug)]
pub(crate) struct Crew {
    path: PathBuf,
    limits: Limits,
    inner: Mutex<Inner>,
    /// Held while a PIN is tried, so that tries cannot run beside each other past the limit; nobody else waits for it.
    pin_tries: Mutex<Tries>,
    changed: watch::Sender<u64>,
}

impl Crew {
    pub(crate) fn open(path: &Path, limits: &Limits) -> Result<Self, CrewError> {
        let kept = match std::fs::read(path) {
            Ok(bytes) => serde_json::from_slice(&bytes)
                .map_err(|error| CrewError::Foreign { path: path.to_owned(), why: error.to_string() })?,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Kept::default(),
            Err(source) => return Err(CrewError::Foreign { path: path.to_owned(), why: source.to_string() }),
        };
        let inner = Mutex::new(Inner { kept, ..Inner::default() });
        Ok(Self {
            path: path.to_owned(),
            limits: limits.clone(),
            inner,
            pin_tries: Mutex::default(),
            changed: watch::Sender::new(0),
        })
    }

    /// The paired device that holds this token.
    pub(crate) fn holder(&self, token: &str, secure: bool) -> Option<Device> {
        let hash = secret::hash_of(token);
        let inner = self.lock();
        let found = inner.kept.devices.iter().find(|device| secret::same(&device.token_hash, &hash));
        found.filter(|device| device.revoked_at.is_none() && device.secure == secure).cloned()
    }

    /// Whether a device is still let in with the pairing that it had.
    pub(crate) fn still(&self, device: &Device) -> bool {
        self.lock().kept.devices.contains(device)
    }

    /// Told at each change of the list.
    pub(crate) fn watch(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    pub(crate) fn devices(&self) -> Vec<Device> {
        self.lock().kept.devices.clone()
    }

    /// The open code, where one stands.
    pub(crate) fn open_code(&self, now: Instant) -> Option<OpenCode> {
        self.lock().code.clone().filter(|open| now < open.until)
    }

    /// Makes a code for one device; an older one is void.
    pub(crate) fn make_code(
        &self,
        role: Role,
        name: Option<String>,
        https: bool,
        now: Instant,
    ) -> Result<OpenCode, CrewError> {
        if !role.may_come_over_plain_http() {
            if !https {
                return Err(CrewError::NotOverPlainHttp);
            }
            if !self.has_pin() {
                return Err(CrewError::NoPin);
            }
        }
        check(&name, "the name", 1, 80)?;
        let (tries_left, until) = (self.limits.code_tries, now + self.limits.code_time);
        let open = OpenCode { code: secret::code()?, role, name, tries_left, until };
        self.lock().code = Some(open.clone());
        self.tell();
        Ok(open)
    }

    /// Pairs a device by its code and gives its token, which is kept nowhere.
    pub(crate) fn pair(
        &self,
        code: &str,
        device: &str,
        name: Option<String>,
        (peer, secure): (IpAddr, bool),
        (now, utc): (Instant, UtcInstant),
    ) -> Result<(String, Device), CrewError> {
        check(&Some(device.to_owned()), "the device id", 1, 64)?;
        check(&name, "the name", 1, 80)?;
        if let Some(prefix) = ["bridge-", "instruments-"].into_iter().find(|prefix| device.starts_with(prefix)) {
            return Err(CrewError::ShipsOwn { prefix });
        }
        let mut inner = self.lock();
        let wait_s = inner.code_tries.wait_s(peer, self.limits.tries_each, self.limits.tries_wait, now);
        if let Some(wait_s) = wait_s {
            return Err(CrewError::Wait { wait_s });
        }
        let open = inner.code.take().filter(|open| now < open.until && open.tries_left > 0);
        let open = match open {
            Some(open) if secret::same(&open.code, code) => open,
            wrong => {
                inner.code_tries.failed(peer, now);
                inner.code = wrong.and_then(|open| {
                    let tries_left = open.tries_left - 1;
                    (tries_left > 0).then_some(OpenCode { tries_left, ..open })
                });
                drop(inner);
                self.tell();
                return Err(CrewError::CodeNotValid);
            }
        };
        if !secure && !open.role.may_come_over_plain_http() {
            drop(inner);
            self.tell();
            return Err(CrewError::Overheard);
        }
        let token = secret::token()?;
        let fresh = Device {
            device: device.to_owned(),
            name: name.or(open.name),
            role: open.role,
            paired_at: utc.to_string(),
            revoked_at: None,
            secure,
            token_hash: secret::hash_of(&token),
        };
        let mut kept = inner.kept.clone();
        kept.devices.retain(|known| known.device != device);
        kept.devices.push(fresh.clone());
        self.write(&kept)?;
        inner.kept = kept;
        inner.code_tries.succeeded(peer);
        drop(inner);
        self.tell();
        Ok((token, fresh))
    }

    /// Takes a device's right away; one that has none any more is told as it stands.
    pub(crate) fn revoke(&self, device: &str, utc: UtcInstant) -> Result<Device, CrewError> {
        let mut inner = self.lock();
        let mut kept = inner.kept.clone();
        let Some(found) = kept.devices.iter_mut().find(|known| known.device == device) else {
            return Err(CrewError::NoSuchDevice { device: device.chars().take(64).collect() });
        };
        if found.revoked_at.is_none() {
            found.revoked_at = Some(utc.to_string());
        }
        let revoked = found.clone();
        self.write(&kept)?;
        inner.kept = kept;
        drop(inner);
        self.tell();
        Ok(revoked)
    }

    /// Whether the wheelhouse has a PIN.
    pub(crate) fn has_pin(&self) -> bool {
        self.lock().kept.pin_hash.is_some()
    }

    /// Whether this token has opened the wheelhouse, on this side.
    pub(crate) fn is_open(&self, token: &str, secure: bool) -> bool {
        self.lock().open.get(&secret::hash_of(token)).is_some_and(|(_, by_https)| *by_https == secure)
    }

    /// Sets, changes or (with none) takes away the PIN; every wheelhouse is closed. Slow on purpose.
    pub(crate) fn set_pin(&self, pin: Option<&str>) -> Result<(), CrewError> {
        let pin_hash = match pin {
            None => None,
            Some(pin) => {
                check(&Some(pin.to_owned()), "the PIN", 4, 64)?;
                Some(secret::hash_pin(pin)?)
            }
        };
        let mut inner = self.lock();
        let kept = Kept { pin_hash, devices: inner.kept.devices.clone() };
        self.write(&kept)?;
        inner.kept = kept;
        inner.open.clear();
        Ok(())
    }

    /// Opens the wheelhouse with its PIN and gives a token for the browser. Slow on purpose.
    pub(crate) fn unlock(&self, pin: &str, (peer, secure): (IpAddr, bool), now: Instant) -> Result<String, CrewError> {
        let mut tries = self.pin_tries.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(wait_s) = tries.wait_s(peer, self.limits.pin_tries, self.limits.tries_wait, now) {
            return Err(CrewError::Wait { wait_s });
        }
        let kept = self.lock().kept.pin_hash.clone().unwrap_or_default();
        if pin.len() > 256 || !secret::is_pin(pin, &kept) {
            tries.failed(peer, now);
            return Err(CrewError::PinWrong);
        }
        tries.succeeded(peer);
        let mut inner = self.lock();
        // A PIN that was changed meanwhile is not the one that was tried.
        if inner.kept.pin_hash.as_ref() != Some(&kept) {
            return Err(CrewError::PinWrong);
        }
        let token = secret::token()?;
        if inner.open.len() >= 16
            && let Some(oldest) = inner.open.iter().min_by_key(|(_, (at, _))| *at).map(|(hash, _)| hash.clone())
        {
            inner.open.remove(&oldest);
        }
        inner.open.insert(secret::hash_of(&token), (now, secure));
        Ok(token)
    }

    /// Closes the wheelhouse that this token has opened.
    pub(crate) fn lock_again(&self, token: &str) {
        self.lock().open.remove(&secret::hash_of(token));
    }

    fn tell(&self) {
        self.changed.send_modify(|count| *count += 1);
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The whole list beside its place, flushed, then put in it.
    fn write(&self, kept: &Kept) -> Result<(), CrewError> {
        let write = || crate::private_file::write(&self.path, &serde_json::to_vec_pretty(kept)?);
        write().map_err(|source| CrewError::Unwritten { source })
    }
}

fn check(text: &Option<String>, what: &'static str, least: usize, most: usize) -> Result<(), CrewError> {
    let Some(text) = text else { return Ok(()) };
    let length = text.chars().count();
    if (least..=most).contains(&length) && !text.chars().any(char::is_control) {
        return Ok(());
    }
    Err(CrewError::Length { what, length, least, most })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    const PEER: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(10, 66, 0, 7));

    fn crew(folder: &Path) -> (Crew, (Instant, UtcInstant)) {
        let now = (Instant::now(), "2031-03-02T05:06:07Z".parse().unwrap());
        (Crew::open(&folder.join("devices.json"), &Limits::default()).unwrap(), now)
    }

    #[test]
    fn verif_a_code_pairs_once_and_only_the_hash_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let (ours, now) = crew(folder.path());
        let open = ours.make_code(Role::Rail, None, false, now.0).unwrap();
        let (token, device) = ours.pair(&open.code, "tablet-1", Some("Rail".to_owned()), (PEER, false), now).unwrap();
        assert_eq!(device.role, Role::Rail);
        assert!(matches!(ours.pair(&open.code, "tablet-2", None, (PEER, false), now), Err(CrewError::CodeNotValid)));
        let file = std::fs::read_to_string(folder.path().join("devices.json")).unwrap();
        assert!(!file.contains(&token) && file.contains(&secret::hash_of(&token)));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(folder.path().join("devices.json")).unwrap().permissions().mode();
            assert_eq!(mode & 0o077, 0, "others can read the list: {mode:o}");
        }
        // After a restart the device is still known, until it is revoked.
        let (again, _) = crew(folder.path());
        assert_eq!(again.holder(&token, false), Some(device.clone()));
        assert!(again.still(&device));
        again.revoke("tablet-1", now.1).unwrap();
        assert_eq!(again.holder(&token, false), None);
        assert!(!again.still(&device));
        assert!(again.revoke("tablet-9", now.1).is_err());
    }

    #[test]
    fn verif_codes_end_by_time_by_tries_and_by_a_newer_one() {
        let folder = tempfile::tempdir().unwrap();
        let (ours, now) = crew(folder.path());
        let late = (now.0 + Duration::from_secs(301), now.1);
        let open = ours.make_code(Role::Rail, None, false, now.0).unwrap();
        assert!(ours.pair(&open.code, "t", None, (PEER, false), late).is_err(), "too old");
        let first = ours.make_code(Role::Rail, None, false, now.0).unwrap();
        let open = ours.make_code(Role::Rail, None, false, now.0).unwrap();
        let other = |n: u8| IpAddr::V4(std::net::Ipv4Addr::new(10, 66, 1, n));
        if first.code != open.code {
            assert!(ours.pair(&first.code, "t", None, (other(0), false), now).is_err(), "a newer one voids it");
        }
        for n in 1..5 {
            assert!(ours.pair("nonsense", "t", None, (other(n), false), now).is_err());
        }
        assert!(ours.pair(&open.code, "t", None, (other(9), false), now).is_err(), "used up by wrong tries");
        assert!(ours.open_code(now.0).is_none());
    }

    #[test]
    fn verif_one_guesser_has_to_wait_and_does_not_use_up_the_code() {
        let folder = tempfile::tempdir().unwrap();
        let (ours, now) = crew(folder.path());
        let open = ours.make_code(Role::Stern, None, false, now.0).unwrap();
        for _ in 0..3 {
            assert!(matches!(ours.pair("00", "t", None, (PEER, false), now), Err(CrewError::CodeNotValid)));
        }
        for _ in 0..10 {
            assert!(matches!(ours.pair(&open.code, "t", None, (PEER, false), now), Err(CrewError::Wait { .. })));
        }
        let other = IpAddr::V4(std::net::Ipv4Addr::new(10, 66, 0, 8));
        assert!(ours.pair(&open.code, "t", None, (other, false), now).is_ok());
    }

    #[test]
    fn verif_what_may_not_be_paired() {
        let folder = tempfile::tempdir().unwrap();
        let (ours, now) = crew(folder.path());
        assert!(matches!(ours.make_code(Role::Wheelhouse, None, false, now.0), Err(CrewError::NotOverPlainHttp)));
        let open = ours.make_code(Role::Table, None, false, now.0).unwrap();
        for wrong in ["", "instruments-1", "bridge-2", "a\nb", &"x".repeat(65)] {
            assert!(ours.pair(&open.code, wrong, None, (PEER, false), now).is_err(), "{wrong:?}");
        }
        assert!(ours.pair(&open.code, "table-1", None, (PEER, false), now).is_ok(), "a bad id is no wrong code");
    }

    #[test]
    fn verif_a_pin_opens_and_wrong_ones_wait() {
        let folder = tempfile::tempdir().unwrap();
        let (ours, now) = crew(folder.path());
        assert!(!ours.has_pin());
        assert!(matches!(ours.set_pin(Some("123")), Err(CrewError::Length { .. })));
        ours.set_pin(Some("4711")).unwrap();
        let token = ours.unlock("4711", (PEER, false), now.0).unwrap();
        assert!(ours.is_open(&token, false) && !ours.is_open("other", false));
        for _ in 0..5 {
            assert!(matches!(ours.unlock("1234", (PEER, false), now.0), Err(CrewError::PinWrong)));
        }
        assert!(matches!(ours.unlock("4711", (PEER, false), now.0), Err(CrewError::Wait { .. })));
        ours.lock_again(&token);
        assert!(!ours.is_open(&token, false));
        ours.set_pin(None).unwrap();
        assert!(!ours.has_pin());
    }

    #[test]
    fn verif_tokens_of_http_and_https_are_apart() {
        let folder = tempfile::tempdir().unwrap();
        let (ours, now) = crew(folder.path());
        for secure in [false, true] {
            let open = ours.make_code(Role::Rail, None, true, now.0).unwrap();
            let device = format!("rail-{secure}");
            let (token, _) = ours.pair(&open.code, &device, None, (PEER, secure), now).unwrap();
            assert!(ours.holder(&token, secure).is_some() && ours.holder(&token, !secure).is_none());
        }
        assert!(matches!(ours.make_code(Role::Wheelhouse, None, true, now.0), Err(CrewError::NoPin)));
        ours.set_pin(Some("4711")).unwrap();
        let token = ours.unlock("4711", (PEER, true), now.0).unwrap();
        assert!(ours.is_open(&token, true) && !ours.is_open(&token, false));
        let open = ours.make_code(Role::Wheelhouse, None, true, now.0).unwrap();
        let overheard = ours.pair(&open.code, "bridge", None, (PEER, false), now);
        assert!(matches!(overheard, Err(CrewError::Overheard)));
        let void = ours.pair(&open.code, "bridge", None, (PEER, true), now);
        assert!(matches!(void, Err(CrewError::CodeNotValid)), "what was overheard is void");
        let open = ours.make_code(Role::Wheelhouse, None, true, now.0).unwrap();
        assert_eq!(ours.pair(&open.code, "bridge", None, (PEER, true), now).unwrap().1.role, Role::Wheelhouse);
    }

    #[test]
    fn verif_a_spoilt_list_is_told_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("devices.json");
        std::fs::write(&path, "{broken").unwrap();
        assert!(matches!(Crew::open(&path, &Limits::default()), Err(CrewError::Foreign { .. })));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "{broken");
    }
}
