//! The hub's own certificates. An authority that only this hub has signs the certificate it shows; devices believe that
//! authority alone, because the invitation brought it.

use crate::app::random;
use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use evenwire_core::record::DeviceKey;
pub use evenwire_core::sync::HOST;
use evenwire_core::sync::{NoServing, serving};
use rcgen::{
    BasicConstraints, CertificateParams, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair, KeyUsagePurpose,
};
use rustls::ServerConfig;
use rustls::pki_types::CertificateDer;
use serde::{Deserialize, Serialize};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

#[cfg(test)]
mod tests;

const DAY_MS: i64 = 24 * 60 * 60 * 1000;
/// Clocks of devices that are a little behind take the certificate, too.
const BACKDATED_MS: i64 = 2 * DAY_MS;
/// How long the authority is good: longer than the devices that trust it.
const AUTHORITY_MS: i64 = 20 * 365 * DAY_MS + 5 * DAY_MS;
const LEAF_MS: i64 = 365 * DAY_MS;
/// A certificate that ends sooner than this gets a successor.
const RENEWED_MS: i64 = 60 * DAY_MS;

/// Why there is no certificate.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file cannot be read or written.
    #[error("{path}")]
    File {
        /// Which.
        path: PathBuf,
        /// As the file system says.
        source: io::Error,
    },
    /// A file is not as it was written.
    #[error("{path} is no certificate of this hub")]
    Damaged {
        /// Which.
        path: PathBuf,
    },
    /// A name cannot stand in a certificate, or none can be made.
    #[error("making a certificate")]
    Making(#[from] rcgen::Error),
    /// It cannot be served.
    #[error("serving a certificate")]
    Serving(#[from] NoServing),
}

/// The authority, and what it signed.
#[derive(Clone)]
pub struct Certificates {
    folder: PathBuf,
    authority: Vec<u8>,
    authority_key: Vec<u8>,
    seal: DeviceKey,
    leaf: Leaf,
}

/// The certificate that is shown, with its key.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Leaf {
    names: Vec<String>,
    ends_ms: i64,
    certificate: String,
    key: String,
}

impl std::fmt::Debug for Certificates {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Certificates({:?}, until {})", self.leaf.names, self.leaf.ends_ms)
    }
}

impl Certificates {
    /// Those in `<folder>/tls`, made if they are not there; the one that is shown is made anew for other `hosts` (names
    /// and addresses, without ports) and when it ends soon.
    ///
    /// # Errors
    /// [`TlsError`]. An authority that is damaged is not replaced: no device would believe another one.
    pub fn open(folder: &Path, hosts: &[String], now_ms: i64) -> Result<Certificates, TlsError> {
        let mut names = vec![HOST.to_owned(), "localhost".to_owned(), "127.0.0.1".to_owned(), "::1".to_owned()];
        names.extend(hosts.iter().filter(|host| !names.contains(host)).cloned().collect::<Vec<_>>());
        Certificates::for_names(folder, names, now_ms)
    }

    /// The same for these names and no other; there is at least one.
    ///
    /// # Errors
    /// As [`Certificates::open`].
    pub fn for_names(folder: &Path, names: Vec<String>, now_ms: i64) -> Result<Certificates, TlsError> {
        let folder = folder.join("tls");
        fs::create_dir_all(&folder).map_err(at(&folder))?;
        let (certificate, key) = (folder.join("authority.crt"), folder.join("authority.key"));
        if !certificate.exists() {
            let (made, secret) = make_authority(now_ms)?;
            // The key first: a certificate without its key would be damage, the other way round is a new beginning.
            write_secret(&key, &secret)?;
            write_secret(&certificate, &made)?;
        }
        let authority = fs::read(&certificate).map_err(at(&certificate))?;
        let authority_key = fs::read(&key).map_err(at(&key))?;
        let path = folder.join("leaf.json");
        let kept = fs::read(&path).ok().and_then(|json| serde_json::from_slice(&json).ok());
        let leaf = kept.unwrap_or(Leaf { names: vec![], ends_ms: 0, certificate: String::new(), key: String::new() });
        let seal = open_seal(&folder.join("seal.key"))?;
        let mut here = Certificates { folder, authority, authority_key, seal, leaf };
        here.renew(names, now_ms)?;
        Ok(here)
    }

    /// The certificate of the authority, DER.
    pub fn authority(&self) -> &[u8] {
        &self.authority
    }

    /// Where they lie: on the hub's disk.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The key by which this hub vouches for files it puts together.
    pub fn seal(&self) -> &DeviceKey {
        &self.seal
    }

    /// When the certificate that is shown ends, ms since 1970.
    pub fn ends_ms(&self) -> i64 {
        self.leaf.ends_ms
    }

    /// Makes the one that is shown anew if it is for other names or ends soon; whether it was.
    fn renew(&mut self, names: Vec<String>, now_ms: i64) -> Result<bool, TlsError> {
        if self.leaf.names == names && self.leaf.ends_ms - now_ms >= RENEWED_MS {
            return Ok(false);
        }
        let damaged = || TlsError::Damaged { path: self.folder.join("authority.key") };
        let key = KeyPair::try_from(self.authority_key.as_slice()).map_err(|_| damaged())?;
        let authority = CertificateDer::from(self.authority.as_slice());
        let issuer = Issuer::from_ca_cert_der(&authority, key).map_err(|_| damaged())?;
        let leaf_key = KeyPair::generate()?;
        let mut params = CertificateParams::new(names.clone())?;
        params.distinguished_name = rcgen::DistinguishedName::new();
        params.distinguished_name.push(DnType::CommonName, names.first().map_or(HOST, String::as_str));
        params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
        params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
        params.use_authority_key_identifier_extension = true;
        let ends_ms = now_ms + LEAF_MS;
        good(&mut params, now_ms - BACKDATED_MS, ends_ms);
        let made = params.signed_by(&leaf_key, &issuer)?;
        let (certificate, key) = (BASE64.encode(made.der()), BASE64.encode(leaf_key.serialize_der()));
        self.leaf = Leaf { names, ends_ms, certificate, key };
        let json = serde_json::to_vec(&self.leaf).expect("texts and a number");
        write_secret(&self.folder.join("leaf.json"), &json)?;
        Ok(true)
    }

    /// How connections are taken, as [`serving`] says.
    ///
    /// # Errors
    /// [`TlsError`] when what was kept is no certificate.
    pub fn serving(&self) -> Result<Arc<ServerConfig>, TlsError> {
        let damaged = || TlsError::Damaged { path: self.folder.join("leaf.json") };
        let decoded = |text: &str| BASE64.decode(text).map_err(|_| damaged());
        let (certificate, key) = (decoded(&self.leaf.certificate)?, decoded(&self.leaf.key)?);
        Ok(serving(vec![certificate, self.authority.clone()], key)?)
    }
}

/// The 32 bytes in the file at `path`; random ones where there is none yet.
fn open_seal(path: &Path) -> Result<DeviceKey, TlsError> {
    if !path.exists() {
        write_secret(path, &random::<32>())?;
    }
    let seed = fs::read(path).map_err(at(path))?;
    seed.try_into().map(DeviceKey::from_seed).map_err(|_| TlsError::Damaged { path: path.to_owned() })
}

/// Certificate and key, DER.
fn make_authority(now_ms: i64) -> Result<(Vec<u8>, Vec<u8>), TlsError> {
    let key = KeyPair::generate()?;
    let mut params = CertificateParams::default();
    params.distinguished_name = rcgen::DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, "Evenwire hub");
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    good(&mut params, now_ms - BACKDATED_MS, now_ms + AUTHORITY_MS);
    let made = params.self_signed(&key)?;
    Ok((made.der().to_vec(), key.serialize_der()))
}

/// The day of a time, at its beginning (UTC).
fn day(at_ms: i64) -> (i32, u8, u8) {
    let at = jiff::Timestamp::from_millisecond(at_ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    let date = jiff::tz::Offset::UTC.to_datetime(at).date();
    (date.year().into(), date.month().unsigned_abs(), date.day().unsigned_abs())
}

/// From the day of one time to that of another.
fn good(params: &mut CertificateParams, from_ms: i64, to_ms: i64) {
    let ((year, month, day), (to_year, to_month, to_day)) = (day(from_ms), day(to_ms));
    params.not_before = rcgen::date_time_ymd(year, month, day);
    params.not_after = rcgen::date_time_ymd(to_year, to_month, to_day);
}

/// The last part of an address without its port: `192.0.2.5:7443` and `[2001:db8::5]:7443` and `hub.example:7443`.
pub fn host_of(address: &str) -> String {
    if let Ok(ip) = address.parse::<IpAddr>() {
        return ip.to_string();
    }
    let host = address.rsplit_once(':').map_or(address, |(host, _)| host);
    host.trim_start_matches('[').trim_end_matches(']').to_owned()
}

fn at(path: &Path) -> impl FnOnce(io::Error) -> TlsError {
    let path = path.to_owned();
    move |source| TlsError::File { path, source }
}

/// Writes a file only its owner may read; whole or not at all.
fn write_secret(path: &Path, bytes: &[u8]) -> Result<(), TlsError> {
    let fresh = path.with_extension("new");
    let write = || -> io::Result<()> {
        let mut options = OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(&fresh)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        fs::rename(&fresh, path)?;
        let folder = path.parent().unwrap_or(Path::new("."));
        File::open(folder)?.sync_all()
    };
    write().map_err(at(path))
}
