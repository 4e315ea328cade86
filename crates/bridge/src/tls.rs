//! The https rung: the ship's certificate, renewed by itself, and the settings of TLS.
//!
//! The certificate and its key are made in memory at every start and are kept nowhere. Before each handshake it is
//! looked at: less than 60 days left, a clock that has been set, or an address that it does not name yet, and a new
//! one is made, without a restart and without touching open connections. TLS 1.2 and 1.3 (RFC 5246, RFC 8446) by
//! rustls; HTTP/1.1 only, as on the plain side.

use std::collections::BTreeSet;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

use rustls::ServerConfig;
use rustls::crypto::ring;
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use sha2::{Digest, Sha256};

use crate::authority::{Authority, AuthorityError, Leaf};

/// A certificate with less left is made anew.
const RENEW_S: i64 = 60 * 86_400;

/// The ship's certificate and who vouches for it.
#[derive(Debug)]
pub(crate) struct Secure {
    authority: Authority,
    names: Vec<String>,
    shown: Mutex<Shown>,
}

#[derive(Debug)]
struct Shown {
    addresses: BTreeSet<IpAddr>,
    made_unix_s: i64,
    ends_unix_s: i64,
    key: Arc<CertifiedKey>,
}

/// The computer's clock; played voyages do not move it.
pub(crate) fn unix_now_s() -> i64 {
    SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| i64::try_from(since.as_secs()).unwrap_or(i64::MAX))
}

fn signed(leaf: Leaf) -> Result<Arc<CertifiedKey>, AuthorityError> {
    let key =
        ring::sign::any_supported_type(&leaf.key).map_err(|error| AuthorityError::Unmade { why: error.to_string() })?;
    Ok(Arc::new(CertifiedKey::new(leaf.chain, key)))
}

impl Secure {
    pub(crate) fn new(
        authority: Authority,
        names: Vec<String>,
        addresses: BTreeSet<IpAddr>,
        now_unix_s: i64,
    ) -> Result<Self, AuthorityError> {
        let leaf = authority.leaf(&names, &addresses, now_unix_s)?;
        let ends_unix_s = leaf.ends_unix_s;
        let shown = Shown { addresses, made_unix_s: now_unix_s, ends_unix_s, key: signed(leaf)? };
        Ok(Self { authority, names, shown: Mutex::new(shown) })
    }

    /// Makes the certificate anew where that is due, for a connection that came to `address`; true when it did.
    pub(crate) fn look(&self, address: IpAddr, now_unix_s: i64) -> bool {
        let mut shown = self.shown.lock().unwrap_or_else(PoisonError::into_inner);
        let unnamed = !shown.addresses.contains(&address) && self.authority.may_address(address);
        // Near the authority's own end nothing longer can be made.
        let longer = shown.ends_unix_s < self.authority.ends_unix_s();
        let old = longer && shown.ends_unix_s.saturating_sub(now_unix_s) < RENEW_S;
        let set_back = now_unix_s < shown.made_unix_s - 86_400;
        if !(unnamed || old || set_back) {
            return false;
        }
        let mut addresses = shown.addresses.clone();
        if unnamed {
            addresses.insert(address);
        }
        // Should it fail, the old one is still the best there is.
        let Ok(leaf) = self.authority.leaf(&self.names, &addresses, now_unix_s) else { return false };
        let ends_unix_s = leaf.ends_unix_s;
        let Ok(key) = signed(leaf) else { return false };
        *shown = Shown { addresses, made_unix_s: now_unix_s, ends_unix_s, key };
        true
    }

    /// The authority's certificate (DER), for a tablet to install.
    pub(crate) fn authority_der(&self) -> &[u8] {
        self.authority.certificate()
    }

    /// SHA-256 of that certificate, as tablets and browsers show it.
    pub(crate) fn fingerprint(&self) -> String {
        let pairs: Vec<String> =
            Sha256::digest(self.authority_der()).iter().map(|byte| format!("{byte:02X}")).collect();
        pairs.join(":")
    }

    pub(crate) fn authority_ends_unix_s(&self) -> i64 {
        self.authority.ends_unix_s()
    }

    pub(crate) fn ends_unix_s(&self) -> i64 {
        self.shown.lock().unwrap_or_else(PoisonError::into_inner).ends_unix_s
    }

    /// Names and addresses that were asked for and that the authority was not made for.
    pub(crate) fn unvouched(&self, asked: &BTreeSet<IpAddr>) -> Vec<String> {
        let names = self.names.iter().filter(|name| !self.authority.may_name(name)).cloned();
        names
            .chain(asked.iter().filter(|address| !self.authority.may_address(**address)).map(ToString::to_string))
            .collect()
    }
}

impl ResolvesServerCert for Secure {
    fn resolve(&self, _hello: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(Arc::clone(&self.shown.lock().unwrap_or_else(PoisonError::into_inner).key))
    }
}

/// The settings of TLS with the certificate that is current at each handshake.
pub(crate) fn config(secure: &Arc<Secure>) -> Result<Arc<ServerConfig>, AuthorityError> {
    let mut config = ServerConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|error| AuthorityError::Unmade { why: error.to_string() })?
        .with_no_client_auth()
        .with_cert_resolver(Arc::clone(secure) as Arc<dyn ResolvesServerCert>);
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(Arc::new(config))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::authority::Network;
    use rustls::pki_types::{CertificateDer, ServerName, UnixTime};
    use rustls::{ClientConfig, ClientConnection, RootCertStore, ServerConnection};
    use std::time::Duration;

    const NOW: i64 = 1_795_000_000;
    const DAY: i64 = 86_400;

    fn names() -> Vec<String> {
        vec!["deck.test".to_owned()]
    }

    fn authority(folder: &std::path::Path) -> Authority {
        let networks = [Network::round("192.168.8.2".parse().unwrap())];
        Authority::open(folder, &names(), &networks, NOW).unwrap()
    }

    /// What a client that trusts the authority and nobody else makes of a server, at a time.
    fn visit(config: &Arc<ServerConfig>, root: &[u8], name: &str, at_unix_s: i64) -> Result<(), rustls::Error> {
        #[derive(Debug)]
        struct At(u64);
        impl rustls::time_provider::TimeProvider for At {
            fn current_time(&self) -> Option<UnixTime> {
                Some(UnixTime::since_unix_epoch(Duration::from_secs(self.0)))
            }
        }
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from(root.to_vec())).unwrap();
        let time = Arc::new(At(at_unix_s.try_into().unwrap()));
        let client = ClientConfig::builder_with_details(Arc::new(ring::default_provider()), time)
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        let name = ServerName::try_from(name.to_owned()).unwrap();
        let mut client = ClientConnection::new(Arc::new(client), name).unwrap();
        let mut server = ServerConnection::new(Arc::clone(config)).unwrap();
        for _ in 0..10 {
            let mut bytes = Vec::new();
            while client.wants_write() {
                client.write_tls(&mut bytes).unwrap();
            }
            let mut rest = bytes.as_slice();
            while !rest.is_empty() {
                server.read_tls(&mut rest).unwrap();
                server.process_new_packets()?;
            }
            let mut bytes = Vec::new();
            while server.wants_write() {
                server.write_tls(&mut bytes).unwrap();
            }
            let mut rest = bytes.as_slice();
            while !rest.is_empty() {
                client.read_tls(&mut rest).unwrap();
                client.process_new_packets()?;
            }
            if !client.is_handshaking() && !server.is_handshaking() {
                return Ok(());
            }
        }
        panic!("the handshake has no end");
    }

    fn showing(key: Leaf) -> Arc<ServerConfig> {
        let provider = Arc::new(ring::default_provider());
        let config = ServerConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
        Arc::new(config.with_no_client_auth().with_single_cert(key.chain, key.key).unwrap())
    }

    #[test]
    fn verif_a_client_that_trusts_the_ship_trusts_its_names_and_addresses_and_no_others() {
        let folder = tempfile::tempdir().unwrap();
        let authority = authority(folder.path());
        let root = authority.certificate().to_vec();
        for good in ["deck.test", "rail.deck.test", "192.168.8.2", "192.168.8.250"] {
            visit(&showing(authority.forged(good, NOW)), &root, good, NOW)
                .unwrap_or_else(|error| panic!("{good}: {error}"));
        }
        let others =
            ["bank.test", "notdeck.test", "test", "localhost", "192.168.9.2", "10.0.0.1", "127.0.0.1", "fd00::1"];
        for other in others {
            let refused = visit(&showing(authority.forged(other, NOW)), &root, other, NOW).unwrap_err();
            let said = format!("{refused:?}");
            assert!(said.contains("NameConstraintViolation"), "{other}: {said}");
        }
    }

    #[test]
    fn verif_the_authority_cannot_make_another_authority() {
        let folder = tempfile::tempdir().unwrap();
        let authority = authority(folder.path());
        let leaf = authority.forged("deck.test", NOW);
        let key = rcgen::KeyPair::try_from(leaf.key.secret_der()).unwrap();
        let below = rcgen::CertificateParams::new(["deck.test".to_owned()]).unwrap();
        let own = rcgen::KeyPair::generate().unwrap();
        let forged = below.signed_by(&own, &rcgen::Issuer::new(rcgen::CertificateParams::default(), key)).unwrap();
        let chain = [vec![forged.der().clone()], leaf.chain].concat();
        let key = rustls::pki_types::PrivateKeyDer::try_from(own.serialize_der()).unwrap();
        let server = showing(Leaf { chain, key, ends_unix_s: 0 });
        assert!(visit(&server, authority.certificate(), "deck.test", NOW).is_err());
    }

    #[test]
    fn verif_the_certificate_is_renewed_well_before_its_end_without_a_restart() {
        let folder = tempfile::tempdir().unwrap();
        let authority = authority(folder.path());
        let root = authority.certificate().to_vec();
        let address: IpAddr = "192.168.8.2".parse().unwrap();
        let secure = Arc::new(Secure::new(authority, names(), BTreeSet::from([address]), NOW).unwrap());
        let config = config(&secure).unwrap();
        visit(&config, &root, "deck.test", NOW).unwrap();
        visit(&config, &root, "192.168.8.2", NOW + 389 * DAY).unwrap();
        assert!(visit(&config, &root, "deck.test", NOW + 391 * DAY).is_err(), "over");
        assert!(!secure.look(address, NOW + 329 * DAY), "61 days are left");
        assert!(secure.look(address, NOW + 331 * DAY), "59 days are left");
        assert!(!secure.look(address, NOW + 331 * DAY), "once is enough");
        visit(&config, &root, "deck.test", NOW + 700 * DAY).unwrap();
        // A new address of the computer is named from its first connection on; one of a strange network never.
        let moved: IpAddr = "192.168.8.77".parse().unwrap();
        assert!(visit(&config, &root, "192.168.8.77", NOW + 400 * DAY).is_err());
        assert!(secure.look(moved, NOW + 400 * DAY));
        visit(&config, &root, "192.168.8.77", NOW + 400 * DAY).unwrap();
        visit(&config, &root, "192.168.8.2", NOW + 400 * DAY).unwrap();
        let strange: IpAddr = "172.20.0.9".parse().unwrap();
        assert!(!secure.look(strange, NOW + 400 * DAY));
        assert_eq!(secure.unvouched(&BTreeSet::from([strange, moved])), ["172.20.0.9"]);
        // A clock that was ahead for years when the certificate was made, and was then set right.
        assert!(secure.look(address, NOW));
        visit(&config, &root, "deck.test", NOW).unwrap();
    }

    #[test]
    fn verif_the_authority_is_kept_and_a_spoilt_one_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let first = authority(folder.path()).certificate().to_vec();
        let other = ["other.test".to_owned()];
        let again = Authority::open(folder.path(), &other, &[], NOW + 900 * DAY).unwrap();
        assert_eq!(again.certificate().to_vec(), first, "tablets stay enrolled");
        assert!(again.may_name("deck.test") && !again.may_name("other.test"));
        let secure = Secure::new(again, other.to_vec(), BTreeSet::new(), NOW).unwrap();
        assert_eq!(secure.unvouched(&BTreeSet::new()), ["other.test"]);
        let path = folder.path().join("authority.json");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = || std::fs::metadata(&path).unwrap().permissions().mode();
            assert_eq!(mode() & 0o077, 0, "others can read the key: {:o}", mode());
            std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o644)).unwrap();
            drop(authority(folder.path()));
            assert_eq!(mode() & 0o077, 0, "a copy's rights are taken back");
        }
        std::fs::write(&path, "{broken").unwrap();
        let spoilt = Authority::open(folder.path(), &names(), &[], NOW);
        assert!(matches!(spoilt, Err(AuthorityError::Foreign { .. })));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "{broken");
    }

    #[test]
    fn verif_a_computer_without_clock_or_network_makes_a_limited_authority_too() {
        let folder = tempfile::tempdir().unwrap();
        let authority = Authority::open(folder.path(), &[], &[], 0).unwrap();
        let root = authority.certificate().to_vec();
        visit(&showing(authority.forged("ship.home.arpa", 0)), &root, "ship.home.arpa", NOW).unwrap();
        visit(&showing(authority.forged("10.66.0.1", 0)), &root, "10.66.0.1", NOW).unwrap();
        for other in ["8.8.8.8", "bank.test"] {
            assert!(visit(&showing(authority.forged(other, 0)), &root, other, NOW).is_err(), "{other}");
        }
    }
}
