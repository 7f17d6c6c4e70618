//! A hub that runs: started on a folder, stopped in good order.

use crate::app::{App, Clock, Rates, Shared};
use crate::blobs::{Blobs, BucketAddress};
use crate::doctor::{self, Found};
use crate::door::Door;
use crate::house::{House, Terms};
use crate::storage::{FILE, ServerAddress, Storage, StorageError};
use crate::tls::{TlsError, host_of};
use axum::Router;
use axum_server::Handle;
use evenwire_core::sync::near_by;
use std::fs::{self, File, TryLockError};
use std::io;
use std::net::{IpAddr, SocketAddr, TcpListener, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::task::JoinHandle;

/// How long the head of a request may take.
const HEAD: Duration = Duration::from_secs(15);
/// How long requests that are being answered may go on when the hub ends.
const FAREWELL: Duration = Duration::from_secs(10);
/// How often the certificate is looked at.
const A_DAY: Duration = Duration::from_secs(24 * 60 * 60);

/// How often a hub that shares its folder tries to get in, and how long it waits each time.
const BEGINNINGS: u32 = 100;
const A_MOMENT: Duration = Duration::from_millis(20);

/// What a hub is started with.
#[derive(Debug)]
pub struct Settings {
    /// Everything it keeps; with `store` the files and the certificates, for all hubs of that database. Shops with names
    /// have folders of their own in it.
    pub folder: PathBuf,
    /// The database of its rows; none: a file in the folder, which is then this hub's alone.
    pub store: Option<ServerAddress>,
    /// The bucket of its files; none: they are in the folder.
    pub blobs: Option<BucketAddress>,
    /// Where it listens; port 0: any that is free.
    pub listen: SocketAddr,
    /// Where it is reached, with or without port; none: the addresses of this machine.
    pub addresses: Vec<String>,
    /// Its clock.
    pub clock: Clock,
    /// How often it may be asked.
    pub rates: Rates,
}

/// Why a hub does not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// What is kept.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// Its certificates.
    #[error(transparent)]
    Tls(#[from] TlsError),
    /// Its folder.
    #[error("the folder {folder}")]
    Folder {
        /// Which.
        folder: PathBuf,
        /// As the file system says.
        source: io::Error,
    },
    /// There is no shop of that name.
    #[error("there is no shop {0:?} here")]
    NoShop(String),
    /// Where it was to listen.
    #[error("listening on {listen}")]
    Listening {
        /// Where.
        listen: SocketAddr,
        /// As the operating system says.
        source: io::Error,
    },
}

/// A process that serves shops.
#[derive(Debug)]
pub struct Serving {
    /// The shops.
    pub house: Arc<House>,
    /// Where it listens.
    pub listens: SocketAddr,
    /// Token of the set-up link of the shop without a name, as long as nobody came in by one.
    pub setup: Option<String>,
    handle: Handle<SocketAddr>,
    answering: JoinHandle<io::Result<()>>,
    behind: Vec<JoinHandle<()>>,
    /// Nobody else has this folder as long as this lives, or only other hubs of the same database.
    _lock: File,
}

/// The hub of a shop without a name, which runs.
#[derive(Debug)]
pub struct Running {
    /// What it answers from.
    pub app: Shared,
    /// Where it listens.
    pub listens: SocketAddr,
    /// Token of the set-up link, as long as nobody came in by one.
    pub setup: Option<String>,
    serving: Serving,
}

/// Starts a hub of one shop: its folder is made if it is not there.
///
/// # Errors
/// [`StartError`], also where all shops of the database have names.
pub async fn start(settings: Settings) -> Result<Running, StartError> {
    let mut serving = start_all(settings).await?;
    let Some(app) = serving.house.only().map(|only| only.app.clone()) else {
        serving.stop().await;
        return Err(StartError::NoShop(String::new()));
    };
    Ok(Running { app, listens: serving.listens, setup: serving.setup.take(), serving })
}

/// Starts a process for all shops that are kept there; the first of all begins without a name, unless some were added with
/// one.
///
/// # Errors
/// [`StartError`].
pub async fn start_all(settings: Settings) -> Result<Serving, StartError> {
    let Settings { folder, store, blobs, listen, addresses, clock, rates } = settings;
    let (lock, blobs) = match &store {
        None => (lock(&folder)?, Blobs::open_at(&folder, blobs.as_ref())?),
        Some(_) => share(&folder, blobs.as_ref()).await?,
    };
    if let Err(error) = blobs.try_out().await {
        tracing::error!(%error, "no files can be stored now: devices keep theirs, and bring them when they can be");
    }
    let storage = Storage::open_at(&folder, store.as_ref())?;
    let named = storage.shops().await?.iter().any(|shop| !shop.name.is_empty());
    let (only, setup) = if named && !storage.is_begun().await? {
        (None, None)
    } else {
        let (hub, setup) = App::begin(&storage, &clock).await?;
        (Some(hub.id), setup)
    };
    let refused = |source| StartError::Listening { listen, source };
    let listener = TcpListener::bind(listen).map_err(refused)?;
    let listens = listener.local_addr().map_err(refused)?;
    let addresses = reached_at(addresses, listens.port());
    let hosts: Vec<String> = addresses.iter().map(|address| host_of(address)).collect();
    let terms = Terms { folder, addresses, hosts, clock, rates };
    let house = Arc::new(House::begin((storage, blobs), only, terms)?);
    let handle = Handle::new();
    let server = axum_server::from_tcp(listener).map_err(refused)?.handle(handle.clone());
    let mut server = server.acceptor(Door(house.clone())).first_request_timeout(HEAD);
    server.http_builder().http1().header_read_timeout(HEAD);
    // Whoever is let in by the door is answered by the shop it leads to, and never by this.
    let answering = tokio::spawn(async move { server.serve(Router::new().into_make_service()).await });
    let behind = vec![tokio::spawn(renew(house.clone())), tokio::spawn(open_all(house.clone()))];
    tracing::info!(%listens, "the hub runs");
    Ok(Serving { house, listens, setup, handle, answering, behind, _lock: lock })
}

impl Running {
    /// The process it runs in.
    pub fn house(&self) -> Arc<House> {
        self.serving.house.clone()
    }

    /// Takes no more requests, answers those that came, and ends.
    pub async fn stop(self) {
        self.serving.stop().await;
    }
}

impl Serving {
    /// Takes no more requests, answers those that came, and ends.
    pub async fn stop(self) {
        self.handle.graceful_shutdown(Some(FAREWELL));
        match self.answering.await {
            Ok(Ok(())) => {}
            Ok(Err(error)) => tracing::error!(%error, "the hub ended otherwise than it should"),
            Err(error) => tracing::error!(%error, "the hub ended otherwise than it should"),
        }
        self.behind.iter().for_each(JoinHandle::abort);
        self.house.rest();
        tracing::info!("the hub has ended");
    }
}

/// Shows new certificates before those that are shown end, however long the hub runs.
async fn renew(house: Arc<House>) {
    loop {
        tokio::time::sleep(A_DAY).await;
        house.renew();
    }
}

async fn open_all(house: Arc<House>) {
    if let Err(error) = house.open_all().await {
        tracing::error!(%error, "shops are opened when they are asked for");
    }
}

/// Looks at everything in the folder of a hub that does not run. Files that are lost are noted as missing, so that
/// devices bring them again.
///
/// # Errors
/// [`StartError`].
pub async fn examine_folder(folder: &Path) -> Result<Found, StartError> {
    examine_store(folder, None, None).await
}

/// The same where the rows are in a database, or the files in a bucket; no hub of them may run.
///
/// # Errors
/// [`StartError`].
pub async fn examine_store(
    folder: &Path,
    store: Option<&ServerAddress>,
    bucket: Option<&BucketAddress>,
) -> Result<Found, StartError> {
    let kept = if store.is_some() { folder.join("tls").is_dir() } else { folder.join(FILE).is_file() };
    if !kept {
        return Err(StartError::Folder { folder: folder.to_owned(), source: io::ErrorKind::NotFound.into() });
    }
    let _lock = lock(folder)?;
    let storage = Storage::open_at(folder, store)?;
    examine_shop(&storage, &Blobs::open_at(folder, bucket)?).await
}

/// The same for the shop of that name, or for all that are kept there; each with its name.
///
/// # Errors
/// [`StartError`].
pub async fn examine_shops(
    folder: &Path,
    (store, bucket): (&ServerAddress, Option<&BucketAddress>),
    name: Option<&str>,
) -> Result<Vec<(String, Found)>, StartError> {
    let _lock = lock(folder)?;
    let storage = Storage::open_at(folder, Some(store))?;
    let blobs = Blobs::open_at(folder, bucket)?;
    let mut found = Vec::new();
    for shop in storage.shops().await? {
        let of_shop = storage.of(&shop);
        if name.is_some_and(|name| name != shop.name) || !of_shop.is_begun().await? {
            continue;
        }
        let blobs = shop.hub.map_or_else(|| blobs.clone(), |hub| blobs.of(hub));
        found.push((shop.name.clone(), examine_shop(&of_shop, &blobs).await?));
    }
    if found.is_empty() {
        return Err(StartError::NoShop(name.unwrap_or_default().to_owned()));
    }
    Ok(found)
}

async fn examine_shop(storage: &Storage, blobs: &Blobs) -> Result<Found, StartError> {
    let hub = storage.known().await?;
    let found = doctor::examine(storage, blobs, hub).await?;
    for hash in &found.lost {
        storage.note_lost(*hash).await?;
    }
    Ok(found)
}

/// The folder is this hub's alone.
fn lock(folder: &Path) -> Result<File, StartError> {
    let file = lock_file(folder)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(StorageError::InUse.into()),
        Err(TryLockError::Error(source)) => Err(StartError::Folder { folder: folder.to_owned(), source }),
    }
}

/// The folder is this hub's and others' of the same database. The first of them clears away what was being written when
/// the last one ended.
async fn share(folder: &Path, bucket: Option<&BucketAddress>) -> Result<(File, Blobs), StartError> {
    let refused = |source| StartError::Folder { folder: folder.to_owned(), source };
    let file = lock_file(folder)?;
    for _ in 0..BEGINNINGS {
        if file.try_lock().is_ok() {
            Blobs::open_at(folder, bucket)?;
            file.unlock().map_err(refused)?;
        }
        match file.try_lock_shared() {
            Ok(()) => return Ok((file, Blobs::join(folder, bucket)?)),
            // Another one that begins; or one that has the folder alone, and goes on having it.
            Err(TryLockError::WouldBlock) => tokio::time::sleep(A_MOMENT).await,
            Err(TryLockError::Error(source)) => return Err(refused(source)),
        }
    }
    Err(StorageError::InUse.into())
}

fn lock_file(folder: &Path) -> Result<File, StartError> {
    let refused = |source| StartError::Folder { folder: folder.to_owned(), source };
    if !folder.exists() {
        make_private(folder).map_err(refused)?;
    }
    File::create(folder.join("lock")).map_err(refused)
}

/// Makes a folder only its owner may look into: names and plates are in it.
pub(crate) fn make_private(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    #[cfg(unix)]
    fs::set_permissions(folder, std::os::unix::fs::PermissionsExt::from_mode(0o700))?;
    Ok(())
}

/// The addresses a hub is reached at, each with a port: those it was `told`, or this machine's.
pub fn reached_at(told: Vec<String>, port: u16) -> Vec<String> {
    let told = if told.is_empty() { of_this_machine() } else { told };
    let with_port = |address: String| match address.parse::<IpAddr>() {
        Ok(ip) => SocketAddr::new(ip, port).to_string(),
        Err(_) if address.rsplit_once(':').is_some_and(|(_, port)| port.parse::<u16>().is_ok()) => address,
        Err(_) => format!("{address}:{port}"),
    };
    told.into_iter().map(with_port).collect()
}

/// The addresses this machine would send from, if there is a way out of its network; otherwise those it has in networks
/// near by. Nothing is sent: a datagram socket that is connected only chooses its way. The addresses it chooses for are
/// reserved for documentation.
fn of_this_machine() -> Vec<String> {
    let way = |from: &str, to: &str| -> Option<IpAddr> {
        let socket = UdpSocket::bind(from).ok()?;
        socket.connect(to).ok()?;
        Some(socket.local_addr().ok()?.ip())
    };
    let ways = [way("0.0.0.0:0", "192.0.2.1:9"), way("[::]:0", "[2001:db8::1]:9")];
    told(ways.into_iter().flatten().collect(), || {
        let found = if_addrs::get_if_addrs().unwrap_or_else(|error| {
            tracing::warn!(%error, "the system does not tell the addresses of this machine");
            Vec::new()
        });
        found.iter().map(if_addrs::Interface::ip).collect()
    })
}

/// `out`: addresses on the way out; `all`: asked where there is none.
fn told(out: Vec<IpAddr>, all: impl FnOnce() -> Vec<IpAddr>) -> Vec<String> {
    let found = if out.is_empty() { near_by(all()) } else { out };
    found.iter().map(IpAddr::to_string).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hub_without_a_way_out_is_found_in_its_own_network() {
        let ips = |texts: &[&str]| texts.iter().map(|text| text.parse().unwrap()).collect::<Vec<IpAddr>>();
        assert_eq!(told(ips(&["192.168.7.20"]), || ips(&["10.0.0.9"])), ["192.168.7.20"]);
        assert_eq!(told(Vec::new(), || ips(&["127.0.0.1", "10.0.0.9", "::1"])), ["10.0.0.9"]);
        assert_eq!(told(Vec::new(), Vec::new), ["127.0.0.1"], "in no network at all");
    }
}
