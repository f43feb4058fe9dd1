//! Encrypted transport: a certificate of one's own, or one signed by a local authority that is made
//! on the first run and trusted once on each phone.

use std::fs;
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::path::Path;

use actix_web::cookie::time::{Duration, OffsetDateTime};
use rcgen::{
    BasicConstraints, CertificateParams, DnType, ExtendedKeyUsagePurpose, IsCa, Issuer, KeyPair,
    KeyUsagePurpose,
};
use rustls::ServerConfig;
use rustls::crypto::ring;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use sha2::{Digest, Sha256};
use thiserror::Error;

/// How long a certificate of the server lasts. Phone systems refuse longer ones (398 days is the
/// limit of the CA/Browser Forum's baseline requirements); it is made anew on each start.
const SERVER_DAYS: i64 = 397;

/// How long the local authority lasts (assumed: longer than the phones).
const AUTHORITY_DAYS: i64 = 3650;

/// What a TLS server needs.
#[derive(Debug, Clone)]
pub struct Identity {
    /// Certificate and key, ready for use.
    pub server: ServerConfig,
    /// The local authority to be trusted, if one signed the certificate.
    pub authority: Option<Authority>,
}

/// A local authority as phones see it.
#[derive(Debug, Clone)]
pub struct Authority {
    /// The certificate, DER.
    pub der: Vec<u8>,
    /// SHA-256 of it, to be compared by eye.
    pub fingerprint: String,
}

/// Why there is no TLS.
#[derive(Debug, Error)]
pub enum TlsError {
    /// A file cannot be read or written.
    #[error("{0}: {1}")]
    File(String, std::io::Error),
    /// A file does not hold what it should.
    #[error("{0} holds no certificate or key in PEM form")]
    Pem(String),
    /// The certificate could not be made.
    #[error("certificate: {0}")]
    Make(#[from] rcgen::Error),
    /// Certificate and key do not go together.
    #[error("certificate and key: {0}")]
    Pair(#[from] rustls::Error),
}

/// The address of this machine in its network, as far as it has one.
#[must_use]
pub fn lan_address() -> IpAddr {
    let local = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        // Connecting a datagram socket sends nothing; 192.0.2.1 is for documentation (RFC 5737).
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    local.map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |address| address.ip())
}

/// A certificate and key from PEM files.
///
/// # Errors
/// [`TlsError`] names the file.
pub fn from_files(certificate: &Path, key: &Path) -> Result<Identity, TlsError> {
    let name = |path: &Path| path.display().to_string();
    let read = |path: &Path| fs::read(path).map_err(|error| TlsError::File(name(path), error));
    let chain = CertificateDer::pem_slice_iter(&read(certificate)?)
        .collect::<Result<Vec<_>, _>>()
        .ok()
        .filter(|chain| !chain.is_empty())
        .ok_or_else(|| TlsError::Pem(name(certificate)))?;
    let key = PrivateKeyDer::from_pem_slice(&read(key)?).map_err(|_| TlsError::Pem(name(key)))?;
    Ok(Identity { server: server_config(chain, key)?, authority: None })
}

/// A certificate for these names, signed by the local authority in `folder`, which is made if it
/// is missing.
///
/// # Errors
/// [`TlsError`] when the folder cannot be used.
pub fn local(folder: &Path, names: &[String]) -> Result<Identity, TlsError> {
    let (params, key) = authority(folder)?;
    let certificate = folder.join("authority.crt");
    let der = match fs::read(&certificate) {
        Ok(der) => der,
        Err(error) => return Err(TlsError::File(certificate.display().to_string(), error)),
    };
    let issuer = Issuer::new(params, key);
    let mut params = CertificateParams::new(names.to_vec())?;
    params.distinguished_name.push(DnType::CommonName, "Handcall on this network");
    params.extended_key_usages = vec![ExtendedKeyUsagePurpose::ServerAuth];
    params.key_usages = vec![KeyUsagePurpose::DigitalSignature];
    params.use_authority_key_identifier_extension = true;
    lasting(&mut params, SERVER_DAYS);
    let server_key = KeyPair::generate()?;
    let signed = params.signed_by(&server_key, &issuer)?;
    let key = PrivateKeyDer::try_from(server_key.serialize_der())
        .map_err(|_| TlsError::Pem("the new key".to_owned()))?;
    let fingerprint =
        Sha256::digest(&der).iter().map(|byte| format!("{byte:02X}")).collect::<Vec<_>>().join(":");
    let server = server_config(vec![signed.der().clone()], key)?;
    Ok(Identity { server, authority: Some(Authority { der, fingerprint }) })
}

fn authority(folder: &Path) -> Result<(CertificateParams, KeyPair), TlsError> {
    let mut params = CertificateParams::new(Vec::new())?;
    params.distinguished_name.push(DnType::CommonName, "Handcall workshop authority");
    params.is_ca = IsCa::Ca(BasicConstraints::Constrained(0));
    params.key_usages = vec![KeyUsagePurpose::KeyCertSign, KeyUsagePurpose::CrlSign];
    lasting(&mut params, AUTHORITY_DAYS);
    let path = folder.join("authority.key");
    let name = || path.display().to_string();
    match fs::read_to_string(&path) {
        Ok(pem) => {
            let key = KeyPair::from_pem(&pem).map_err(|_| TlsError::Pem(name()))?;
            Ok((params, key))
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            let key = KeyPair::generate()?;
            let made = params.self_signed(&key)?;
            let file = |error| TlsError::File(name(), error);
            fs::create_dir_all(folder).map_err(file)?;
            fs::write(folder.join("authority.crt"), made.der()).map_err(file)?;
            write_secret(&path, key.serialize_pem().as_bytes()).map_err(file)?;
            Ok((params, key))
        }
        Err(error) => Err(TlsError::File(name(), error)),
    }
}

fn lasting(params: &mut CertificateParams, days: i64) {
    let now = OffsetDateTime::now_utc();
    // A phone's clock may be behind.
    params.not_before = now - Duration::days(1);
    params.not_after = now + Duration::days(days - 1);
}

/// Writes a file that only its owner can read.
fn write_secret(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    options.open(path)?.write_all(bytes)
}

fn server_config(
    chain: Vec<CertificateDer<'static>>,
    key: PrivateKeyDer<'static>,
) -> Result<ServerConfig, TlsError> {
    let builder = ServerConfig::builder_with_provider(ring::default_provider().into())
        .with_safe_default_protocol_versions()?;
    Ok(builder.with_no_client_auth().with_single_cert(chain, key)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_authority_is_made_once_and_its_key_is_for_its_owner_alone() {
        let folder = std::env::temp_dir().join(format!("handcall-tls-{}", uuid::Uuid::now_v7()));
        let names = ["127.0.0.1".to_owned(), "localhost".to_owned()];
        let first = local(&folder, &names).expect("made");
        let second = local(&folder, &names).expect("found again");
        let fingerprint = |identity: &Identity| {
            identity.authority.as_ref().map(|authority| authority.fingerprint.clone())
        };
        assert_eq!(fingerprint(&first), fingerprint(&second));
        assert_eq!(fingerprint(&first).map(|text| text.len()), Some(95));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode =
                fs::metadata(folder.join("authority.key")).expect("key").permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        fs::write(folder.join("authority.key"), "not a key").expect("written");
        assert!(matches!(local(&folder, &names), Err(TlsError::Pem(_))));
        let _ = fs::remove_dir_all(&folder);
    }

    #[test]
    fn a_missing_or_empty_certificate_file_is_named() {
        let missing = Path::new("/nowhere/certificate.pem");
        let error = from_files(missing, missing).expect_err("missing");
        assert!(error.to_string().contains("certificate.pem"), "{error}");
    }
}
