//! Files in a bucket of an object store that speaks S3: `prefix/ab12…`.

use super::Gate;
use crate::storage::StorageError;
use axum::body::Bytes;
use evenwire_core::record::Hash;
use evenwire_core::sync::MOST_BLOB_BYTES;
use object_store::aws::{AmazonS3Builder, Checksum};
use object_store::path::Path;
use object_store::{BackoffConfig, Error, ObjectStore, ObjectStoreExt, PutPayload, RetryConfig};
use std::fmt;
use std::str::FromStr;
use std::sync::Arc;
use std::time::Duration;
use uuid::Uuid;

/// How often something is asked again that failed in a way that may pass, and for how long: whoever brings a file
/// waits meanwhile, and brings it again after that.
const AGAIN: usize = 2;
const PATIENCE: Duration = Duration::from_secs(20);

/// The address of a bucket, `s3://bucket/prefix`, and what it takes to get in. What is secret in it is never shown.
#[derive(Clone, PartialEq, Eq)]
pub struct BucketAddress {
    bucket: String,
    prefix: String,
    keys: Vec<(String, String)>,
}

impl BucketAddress {
    /// With where the store is and what it takes to get in, as variables of the environment say it: `AWS_ENDPOINT_URL`,
    /// `AWS_REGION`, `AWS_ACCESS_KEY_ID`, `AWS_SECRET_ACCESS_KEY`, and `AWS_ALLOW_HTTP` for one without encryption.
    /// Others are passed over.
    #[must_use]
    pub fn with(self, environment: impl IntoIterator<Item = (String, String)>) -> BucketAddress {
        let keys = environment.into_iter().filter(|(name, _)| name.starts_with("AWS_")).collect();
        BucketAddress { keys, ..self }
    }
}

impl fmt::Display for BucketAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "s3://{}/{}", self.bucket, self.prefix)
    }
}

impl fmt::Debug for BucketAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "BucketAddress({self})")
    }
}

impl FromStr for BucketAddress {
    type Err = &'static str;
    fn from_str(text: &str) -> Result<BucketAddress, Self::Err> {
        let rest = text.strip_prefix("s3://").ok_or("it begins with s3://")?;
        let (bucket, prefix) = rest.split_once('/').unwrap_or((rest, ""));
        let prefix = prefix.trim_end_matches('/');
        if bucket.is_empty() {
            return Err("it names a bucket: s3://bucket/prefix");
        }
        if Path::parse(prefix).is_err() {
            return Err("what stands after the bucket is no name");
        }
        Ok(BucketAddress { bucket: bucket.to_owned(), prefix: prefix.to_owned(), keys: Vec::new() })
    }
}

/// A bucket of an object store.
#[derive(Clone, Debug)]
pub struct Bucket {
    store: Arc<dyn ObjectStore>,
    prefix: Path,
    pub(super) gate: Gate,
}

impl Bucket {
    pub(super) fn open(address: &BucketAddress, gate: Gate) -> Result<Bucket, StorageError> {
        let during = "opening the bucket of blobs";
        // Whoever comes first chooses for the process, and all choose the same.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let backoff = BackoffConfig {
            init_backoff: Duration::from_millis(50),
            max_backoff: Duration::from_secs(1),
            ..BackoffConfig::default()
        };
        let retry = RetryConfig { backoff, max_retries: AGAIN, retry_timeout: PATIENCE };
        let mut builder = AmazonS3Builder::new();
        for (name, value) in &address.keys {
            if let Ok(key) = name.to_ascii_lowercase().parse() {
                builder = builder.with_config(key, value);
            }
        }
        let builder = builder.with_bucket_name(&address.bucket).with_retry(retry);
        let store = builder.with_checksum_algorithm(Checksum::SHA256).build().map_err(|error| fault(during, &error))?;
        Ok(Bucket { store: Arc::new(store), prefix: Path::from(address.prefix.as_str()), gate })
    }

    pub(super) fn within(&self, shop: Uuid) -> Bucket {
        Bucket { prefix: self.prefix.clone().join(shop.to_string()), ..self.clone() }
    }

    fn at(&self, hash: Hash) -> Path {
        self.prefix.clone().join(hash.to_string())
    }

    pub(super) async fn put<T>(
        &self,
        (hash, bytes, pieces): (Hash, usize, Vec<Bytes>),
        noted: impl Future<Output = Result<T, StorageError>>,
    ) -> Result<T, StorageError> {
        let (at, payload) = (self.at(hash), PutPayload::from_iter(pieces));
        self.store_at(&at, payload.clone()).await?;
        let _open = self.gate.open().await?;
        // It may have been taken away before the gate was open; nobody takes it away as long as it is.
        if !self.is_there(&at, bytes).await? {
            self.store_at(&at, payload).await?;
        }
        noted.await
    }

    async fn store_at(&self, at: &Path, payload: PutPayload) -> Result<(), StorageError> {
        self.store.put(at, payload).await.map(drop).map_err(|error| fault("storing a blob", &error))
    }

    async fn is_there(&self, at: &Path, bytes: usize) -> Result<bool, StorageError> {
        match self.store.head(at).await {
            Ok(found) => Ok(found.size == bytes as u64),
            Err(Error::NotFound { .. }) => Ok(false),
            Err(error) => Err(fault("looking for a blob", &error)),
        }
    }

    pub(super) async fn get(&self, hash: Hash) -> Result<Option<Vec<u8>>, StorageError> {
        let during = "reading a blob";
        let found = match self.store.get(&self.at(hash)).await {
            Err(Error::NotFound { .. }) => return Ok(None),
            found => found.map_err(|error| fault(during, &error))?,
        };
        // Whatever lies there, not more of it is read than could ever have been brought.
        if found.meta.size > MOST_BLOB_BYTES as u64 {
            return Err(StorageError::damaged(format!("blob {hash}")));
        }
        found.bytes().await.map(|bytes| Some(bytes.into())).map_err(|error| fault(during, &error))
    }

    pub(super) async fn take_away(&self, hash: Hash) -> Result<(), StorageError> {
        match self.store.delete(&self.at(hash)).await {
            Ok(()) | Err(Error::NotFound { .. }) => Ok(()),
            Err(error) => Err(fault("taking a blob away", &error)),
        }
    }

    /// It answers, and lets this hub in.
    pub(super) async fn try_out(&self) -> Result<(), StorageError> {
        self.is_there(&self.at(Hash::ZERO), 0).await.map(drop)
    }
}

fn fault(during: &'static str, error: &Error) -> StorageError {
    StorageError::Failed { during, why: error.to_string() }
}
