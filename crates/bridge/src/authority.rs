//! The ship's own certificate authority: made once, kept beside the journal, able to vouch for the ship's own names
//! and addresses only.
//!
//! A tablet that trusts it therefore trusts nobody else's site by it, even if its key is stolen: the authority's
//! certificate names the DNS names and the networks that it may speak for, as a critical extension. Both kinds are
//! always named, because a kind that is not named is not limited. Source: RFC 5280 (2008), sections 4.2.1.9 (basic
//! constraints) and 4.2.1.10 (name constraints); RFC 8375 (2018) for `home.arpa`; RFC 1918 and RFC 4193 for the
//! private networks.

use std::collections::BTreeSet;
use std::net::{IpAddr, Ipv4Addr};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rcgen::{
    BasicConstraints, CertificateParams, CidrSubnet, DistinguishedName, DnType, ExtendedKeyUsagePurpose,
    GeneralSubtree, IsCa, Issuer, KeyPair, KeyUsagePurpose, NameConstraints, PKCS_ECDSA_P256_SHA256, SanType,
    date_time_ymd,
};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use serde::{Deserialize, Serialize};

use crate::private_file;

/// The name of a ship that was given none (RFC 8375: `home.arpa` is for networks of one's own).
pub(crate) const USUAL_NAME: &str = "ship.home.arpa";
/// The authority's file in the data folder.
const FILE: &str = "authority.json";

const DAY_S: i64 = 86_400;
/// How long the authority lasts.
const AUTHORITY_S: i64 = 3_650 * DAY_S;
/// How long a certificate of the server lasts: browsers refuse those much longer than a year.
const LEAF_S: i64 = 390 * DAY_S;
/// A certificate holds from so long before it was made: a tablet's clock may be behind the ship's.
const EARLIER_S: i64 = 2 * DAY_S;
/// 1 January 2025, UTC: the authority holds from then on, whatever the clock of a ship's computer said at first.
const BEGIN_S: i64 = 1_735_689_600;
/// 1 January 2026, UTC: no clock that is right shows less.
const NO_EARLIER_S: i64 = 1_767_225_600;

/// Why the ship cannot vouch for itself.
#[derive(Debug, thiserror::Error)]
pub(crate) enum AuthorityError {
    #[error("{} is no certificate authority of this program ({why}); nothing was changed. Move it away to make another one; each tablet has to be enrolled again then", path.display())]
    Foreign { path: PathBuf, why: String },
    #[error("the ship's certificate authority could not be written to {} ({source}); https is not served. Free some space", path.display())]
    Unwritten { path: PathBuf, source: std::io::Error },
    #[error("no certificate could be made ({why}); https is not served")]
    Unmade { why: String },
}

impl From<rcgen::Error> for AuthorityError {
    fn from(error: rcgen::Error) -> Self {
        Self::Unmade { why: error.to_string() }
    }
}

/// A network, such as `192.168.8.0/24`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub(crate) struct Network {
    first: IpAddr,
    prefix: u8,
}

impl Network {
    pub(crate) fn of(address: IpAddr, prefix: u8) -> Self {
        let first = match address {
            IpAddr::V4(v4) => IpAddr::from((u32::from(v4) & mask(32, prefix) as u32).to_be_bytes()),
            IpAddr::V6(v6) => IpAddr::from((u128::from(v6) & mask(128, prefix)).to_be_bytes()),
        };
        Self { first, prefix }
    }

    /// The network in which other devices reach this address: what small routers give out.
    pub(crate) fn round(address: IpAddr) -> Self {
        Self::of(
            address,
            if address.is_loopback() {
                8
            } else if address.is_ipv4() {
                24
            } else {
                64
            },
        )
    }

    pub(crate) fn holds(self, address: IpAddr) -> bool {
        address.is_ipv4() == self.first.is_ipv4() && Self::of(address, self.prefix) == self
    }
}

/// The highest `prefix` bits of `width`.
fn mask(width: u32, prefix: u8) -> u128 {
    let low = width.saturating_sub(u32::from(prefix));
    u128::MAX.checked_shl(low).unwrap_or(0) & (u128::MAX >> (128 - width))
}

impl From<Network> for String {
    fn from(network: Network) -> Self {
        format!("{}/{}", network.first, network.prefix)
    }
}

impl TryFrom<String> for Network {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        let parts = text.split_once('/').and_then(|(first, prefix)| Some((first.parse().ok()?, prefix.parse().ok()?)));
        let (first, prefix): (IpAddr, u8) = parts.ok_or_else(|| format!("\"{text}\" is no network"))?;
        if prefix > if first.is_ipv4() { 32 } else { 128 } {
            return Err(format!("\"{text}\" is no network"));
        }
        Ok(Self::of(first, prefix))
    }
}

/// The private networks (RFC 1918, RFC 4193), for a computer that is in no network yet.
fn private_networks() -> Vec<Network> {
    let v4 = |a, b, prefix| Network::of(IpAddr::V4(Ipv4Addr::new(a, b, 0, 0)), prefix);
    vec![v4(10, 0, 8), v4(172, 16, 12), v4(192, 168, 16), Network::of(IpAddr::from([0xfc00, 0, 0, 0, 0, 0, 0, 0]), 7)]
}

/// What is kept of the authority.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Kept {
    /// Its name, as a tablet's list of authorities shows it.
    name: String,
    /// The DNS names that it may vouch for.
    names: Vec<String>,
    /// The networks whose addresses it may vouch for.
    networks: Vec<Network>,
    ends_unix_s: i64,
    certificate_pem: String,
    /// Secret: whoever has it can pretend to be this ship, and nobody else.
    key_pem: String,
}

/// The authority.
pub(crate) struct Authority {
    kept: Kept,
    certificate: CertificateDer<'static>,
    issuer: Issuer<'static, KeyPair>,
}

impl std::fmt::Debug for Authority {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Authority").field("name", &self.kept.name).finish_non_exhaustive()
    }
}

/// A certificate of the server with its key, made in memory and kept nowhere else.
pub(crate) struct Leaf {
    pub(crate) chain: Vec<CertificateDer<'static>>,
    pub(crate) key: PrivateKeyDer<'static>,
    pub(crate) ends_unix_s: i64,
}

impl Authority {
    /// The authority of a data folder; made at the first use for these names and networks.
    pub(crate) fn open(
        data: &Path,
        names: &[String],
        networks: &[Network],
        now_unix_s: i64,
    ) -> Result<Self, AuthorityError> {
        let path = data.join(FILE);
        let spoilt = |why: String| AuthorityError::Foreign { path: path.clone(), why };
        match std::fs::read(&path) {
            Ok(bytes) => {
                private_file::close(&path);
                let kept: Kept = serde_json::from_slice(&bytes).map_err(|error| spoilt(error.to_string()))?;
                Self::of(kept).map_err(|error| spoilt(error.to_string()))
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                let kept = make(names, networks, now_unix_s)?;
                let bytes = serde_json::to_vec_pretty(&kept).unwrap_or_default();
                private_file::write(&path, &bytes)
                    .map_err(|source| AuthorityError::Unwritten { path: path.clone(), source })?;
                Self::of(kept)
            }
            Err(error) => Err(spoilt(error.to_string())),
        }
    }

    fn of(kept: Kept) -> Result<Self, AuthorityError> {
        let unread = |error: rustls::pki_types::pem::Error| AuthorityError::Unmade { why: error.to_string() };
        let certificate = CertificateDer::from_pem_slice(kept.certificate_pem.as_bytes()).map_err(unread)?;
        let issuer = Issuer::new(params(&kept)?, KeyPair::from_pem(&kept.key_pem)?);
        Ok(Self { kept, certificate, issuer })
    }

    /// The authority's certificate, as a tablet installs it.
    pub(crate) fn certificate(&self) -> &CertificateDer<'static> {
        &self.certificate
    }

    pub(crate) fn ends_unix_s(&self) -> i64 {
        self.kept.ends_unix_s
    }

    /// Whether it may vouch for a name: one of its names, or one below it.
    pub(crate) fn may_name(&self, name: &str) -> bool {
        let below =
            |own: &String| name.strip_suffix(own.as_str()).is_some_and(|left| left.is_empty() || left.ends_with('.'));
        self.kept.names.iter().any(below)
    }

    /// Whether it may vouch for an address.
    pub(crate) fn may_address(&self, address: IpAddr) -> bool {
        self.kept.networks.iter().any(|network| network.holds(address))
    }

    /// A fresh certificate for the server, for those names and addresses that the authority may vouch for.
    pub(crate) fn leaf(
        &self,
        names: &[String],
        addresses: &BTreeSet<IpAddr>,
        now_unix_s: i64,
    ) -> Result<Leaf, AuthorityError> {
        let names: Vec<&String> = names.iter().filter(|name| self.may_name(name)).collect();
        let addresses = addresses.iter().copied().filter(|address| self.may_address(*address));
        let mut sans = Vec::new();
        for name in &names {
            sans.push(SanType::DnsName(name.as_str().try_into()?));
        }
        sans.extend(addresses.map(SanType::IpAddress));
        // Issued for what no constraint allows, a certificate would be refused by every tablet.
        self.issue(sans, names.first().map_or(USUAL_NAME, |name| name.as_str()), now_unix_s)
    }

    fn issue(&self, sans: Vec<SanType>, subject: &str, now_unix_s: i64) -> Result<Leaf, AuthorityError> {
        // A clock that was never set makes a certificate that is over for everybody else.
        let now = now_unix_s.max(NO_EARLIER_S);
        let ends_unix_s = (now + LEAF_S).min(self.kept.ends_unix_s);
        let mut params = CertificateParams::default();
        params.subject_alt_names = sans;
        params.distinguished_name = DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, subject);
        params.not_before = date_time_ymd(1970, 1, 1) + since_1970((now - EARLIER_S).max(BEGIN_S));
        params.not_after = date_time_ymd(1970, 1, 1) + since_1970(ends_unix_s);
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.use_authority_key_identifier_extension = true;
        let key = KeyPair::generate_for(&PKCS_ECDSA_P256_SHA256)?;
        let certificate = params.signed_by(&key, &self.issuer)?;
        Ok(Leaf {
            chain: vec![certificate.der().clone(), self.certificate.clone()],
            key: PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(key.serialize_der())),
            ends_unix_s,
        })
    }

    /// A certificate for any name at all, as a thief of the key could make it.
    #[cfg(test)]
    pub(crate) fn forged(&self, name: &str, now_unix_s: i64) -> Leaf {
        let san = name.parse().map_or_else(|_| SanType::DnsName(name.try_into().unwrap()), SanType::IpAddress);
        self.issue(vec![san], name, now_unix_s).unwrap()
    }
}

fn make(names: &[String], networks: &[Network], now_unix_s: i64) -> Result<Kept, AuthorityError> {
    let key = KeyPair::generate_for(&PKCS_ECDSA_P256_SHA256)?;
    let mut mark = [0_u8; 2];
    getrandom::fill(&mut mark).map_err(|error| AuthorityError::Unmade { why: error.to_string() })?;
    let names = if names.is_empty() { vec![USUAL_NAME.to_owned()] } else { names.to_vec() };
    let networks = if networks.is_empty() { private_networks() } else { networks.to_vec() };
    let mut kept = Kept {
        // A crew member who works on two ships must tell them apart in the tablet's list.
        name: format!("Gangion ship {} {:02x}{:02x}", names[0], mark[0], mark[1]),
        names,
        networks,
        ends_unix_s: now_unix_s.max(NO_EARLIER_S) + AUTHORITY_S,
        certificate_pem: String::new(),
        key_pem: key.serialize_pem(),
    };
    kept.certificate_pem = params(&kept)?.self_signed(&key)?.pem();
    Ok(kept)
}

/// The authority's own certificate before it is signed; the same each time, so that what it issues names it rightly.
fn params(kept: &Kept) -> Result<CertificateParams, AuthorityError> {
    if kept.names.is_empty() || kept.networks.is_empty() {
        return Err(AuthorityError::Unmade { why: "an authority without limits is never made".to_owned() });
    }
    let mut params = CertificateParams::default();
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, kept.name.as_str());
    params.not_before = date_time_ymd(1970, 1, 1) + since_1970(BEGIN_S);
    params.not_after = date_time_ymd(1970, 1, 1) + since_1970(kept.ends_unix_s);
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign];
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    let names = kept.names.iter().cloned().map(GeneralSubtree::DnsName);
    let subnet =
        |network: &Network| GeneralSubtree::IpAddress(CidrSubnet::from_addr_prefix(network.first, network.prefix));
    params.name_constraints = Some(NameConstraints {
        permitted_subtrees: names.chain(kept.networks.iter().map(subnet)).collect(),
        excluded_subtrees: Vec::new(),
    });
    Ok(params)
}

fn since_1970(unix_s: i64) -> Duration {
    Duration::from_secs(u64::try_from(unix_s).unwrap_or(0))
}
