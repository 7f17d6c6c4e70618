//! How connections between our own programs are taken: at the hub, and from device to device.

use rustls::ServerConfig;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, PrivatePkcs8KeyDer};
use std::sync::Arc;

/// Certificates and key do not belong together, or are none.
#[derive(Debug, thiserror::Error)]
#[error("this cannot be served")]
pub struct NoServing(#[from] rustls::Error);

/// TLS 1.3 and nothing older, HTTP/1.1. `chain`: certificates (DER), the one that is shown first; `key`: its key (PKCS #8).
///
/// # Errors
/// [`NoServing`].
pub fn serving(chain: Vec<Vec<u8>>, key: Vec<u8>) -> Result<Arc<ServerConfig>, NoServing> {
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let mut config = ServerConfig::builder_with_provider(provider)
        .with_protocol_versions(&[&rustls::version::TLS13])?
        .with_no_client_auth()
        .with_single_cert(
            chain.into_iter().map(CertificateDer::from).collect(),
            PrivateKeyDer::Pkcs8(PrivatePkcs8KeyDer::from(key)),
        )?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(Arc::new(config))
}
