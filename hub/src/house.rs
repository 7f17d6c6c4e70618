//! The shops that one process serves: each opened when somebody first asks for it, with rows, files, certificates, limits
//! and work of its own. Nothing of one shop is reached through another, because nothing is shared but the connections to
//! the database.

use crate::app::{App, Clock, Rates, Shared};
use crate::behind;
use crate::blobs::Blobs;
use crate::router;
use crate::serve::{StartError, make_private};
use crate::storage::{ShopRow, Storage};
use crate::tls::{Certificates, TlsError};
use axum::Router;
use evenwire_core::sync::{HOST, host_of};
use rustls::ServerConfig;
use std::collections::BTreeMap;
use std::fs::File;
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::Notify;
use tokio::task::JoinHandle;
use uuid::Uuid;

/// How long the work beside the answers of a shop rests when nobody wakes it: of the only one, and of one among many.
const REST: [Duration; 2] = [behind::REST, Duration::from_secs(10 * 60)];

/// What is asked for before anything is said, in the name the connection is made to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// The shop that needs no name.
    Only,
    /// The one whose devices ask for that hub.
    Hub(Uuid),
    /// The one that is called so.
    Named(String),
}

impl Asked {
    /// What `name` asks for, where the process is reached at these hosts. A name that is none of a shop asks for the only
    /// one: what it shows is believed or not by whoever asks.
    pub fn of(name: Option<&str>, hosts: &[String]) -> Asked {
        let Some(name) = name.map(str::to_ascii_lowercase) else { return Asked::Only };
        if hosts.contains(&name) {
            return Asked::Only;
        }
        match name.split_once('.') {
            Some((shop, rest)) if rest == HOST || hosts.iter().any(|host| host == rest) => {
                match Uuid::try_parse(shop) {
                    Ok(hub) => Asked::Hub(hub),
                    Err(_) => Asked::Named(shop.to_owned()),
                }
            }
            _ => Asked::Only,
        }
    }
}

/// The names in the certificate of a shop that is called so, where the process is reached at these hosts.
fn names_of(shop: &str, hub: Uuid, hosts: &[String]) -> Vec<String> {
    let of_shop = |host: &String| host.parse::<IpAddr>().is_err().then(|| format!("{shop}.{host}"));
    let mut names = vec![format!("{shop}.{HOST}"), host_of(hub)];
    names.extend(hosts.iter().filter_map(of_shop).filter(|name| !names.contains(name)).collect::<Vec<_>>());
    names
}

/// A shop that is served.
#[derive(Debug)]
pub struct Open {
    /// What it is called in addresses; empty: it needs no name.
    pub name: String,
    /// What its answers are given from.
    pub app: Shared,
    /// Every way in.
    pub(crate) routes: Router,
    folder: PathBuf,
    shows: Mutex<Arc<ServerConfig>>,
}

impl Open {
    /// How its connections are taken now.
    pub(crate) fn shows(&self) -> Arc<ServerConfig> {
        held(&self.shows).clone()
    }
}

/// What holds for every shop of a process.
#[derive(Debug)]
pub struct Terms {
    /// The folder of the only shop; those with names have theirs in it.
    pub folder: PathBuf,
    /// Where the process is reached, with ports, and the same without them.
    pub addresses: Vec<String>,
    /// Names and addresses of the certificates.
    pub hosts: Vec<String>,
    /// Its clock.
    pub clock: Clock,
    /// How often each shop may be asked.
    pub rates: Rates,
}

/// The shops.
#[derive(Debug)]
pub struct House {
    storage: Storage,
    blobs: Blobs,
    pub(crate) terms: Terms,
    only: Option<Arc<Open>>,
    /// Those with names that were asked for, each by its name and by the id of its hub.
    open: Mutex<BTreeMap<String, Arc<Open>>>,
    opening: tokio::sync::Mutex<()>,
    work: Mutex<Vec<JoinHandle<()>>>,
}

impl House {
    /// A process over these rows and files, with the hub of the shop without a name, if there is one.
    ///
    /// # Errors
    /// [`StartError`].
    pub fn begin((storage, blobs): (Storage, Blobs), only: Option<Uuid>, terms: Terms) -> Result<House, StartError> {
        let mut house = House {
            storage,
            blobs,
            terms,
            only: None,
            open: Mutex::default(),
            opening: tokio::sync::Mutex::default(),
            work: Mutex::default(),
        };
        if let Some(hub) = only {
            let folder = house.terms.folder.clone();
            let certificates = house.certificates((&folder, ""), hub)?;
            let kept = (house.storage.clone(), house.blobs.clone());
            house.only = Some(house.opened(("", hub), kept, (folder, certificates))?);
        }
        Ok(house)
    }

    /// The shop that needs no name, if it is served here.
    pub fn only(&self) -> Option<&Arc<Open>> {
        self.only.as_ref()
    }

    /// Those that are open now.
    pub fn all_open(&self) -> Vec<Arc<Open>> {
        let named: BTreeMap<String, Arc<Open>> =
            held(&self.open).values().map(|open| (open.name.clone(), open.clone())).collect();
        self.only.iter().cloned().chain(named.into_values()).collect()
    }

    /// The shop that is asked for, opened if nobody asked for it before; `None`: there is none.
    ///
    /// # Errors
    /// [`StartError`] when it cannot be opened.
    pub async fn shop(&self, asked: &Asked) -> Result<Option<Arc<Open>>, StartError> {
        if let Storage::Sqlite(_) = self.storage {
            return Ok(self.only.clone());
        }
        let key = match asked {
            Asked::Only => return Ok(self.only.clone()),
            Asked::Hub(hub) if self.only.as_ref().is_some_and(|only| only.app.hub == *hub) => {
                return Ok(self.only.clone());
            }
            Asked::Hub(hub) => hub.simple().to_string(),
            Asked::Named(name) => name.clone(),
        };
        if let Some(open) = self.open_as(&key) {
            return Ok(Some(open));
        }
        let row = match asked {
            Asked::Hub(hub) => self.storage.shop_of_hub(*hub).await?,
            Asked::Named(name) => self.storage.shop_named(name).await?,
            Asked::Only => None,
        };
        match row.as_ref().and_then(|row| Some((row, row.hub?))) {
            Some((row, hub)) => self.open(row, hub).await.map(Some),
            // A hub that was begun anew has another id. What it shows tells its devices so; silence would not.
            None if matches!(asked, Asked::Hub(_)) => Ok(self.only.clone()),
            None => Ok(None),
        }
    }

    fn open_as(&self, key: &str) -> Option<Arc<Open>> {
        held(&self.open).get(key).cloned()
    }

    async fn open(&self, row: &ShopRow, hub: Uuid) -> Result<Arc<Open>, StartError> {
        let _alone = self.opening.lock().await;
        if let Some(open) = self.open_as(&row.name) {
            return Ok(open);
        }
        let folder = folder_of(&self.terms.folder, row);
        make_private(&folder).map_err(|source| StartError::Folder { folder: folder.clone(), source })?;
        let certificates = self.certificates((&folder, &row.name), hub)?;
        // Under the id of its hub: a name is for people.
        let kept = (self.storage.of(row), self.blobs.of(hub));
        let open = self.opened((&row.name, hub), kept, (folder, certificates))?;
        held(&self.open).extend([(row.name.clone(), open.clone()), (hub.simple().to_string(), open.clone())]);
        tracing::info!(shop = row.name, %hub, "a shop is open");
        Ok(open)
    }

    fn opened(
        &self,
        (name, hub): (&str, Uuid),
        (storage, blobs): (Storage, Blobs),
        (folder, certificates): (PathBuf, Certificates),
    ) -> Result<Arc<Open>, StartError> {
        let shows = Mutex::new(certificates.serving()?);
        let (addresses, clock) = (self.terms.addresses.clone(), self.terms.clock.clone());
        let (rates, work) = (self.terms.rates.for_another(), Notify::new());
        let app = Arc::new(App { storage, blobs, hub, certificates, addresses, clock, rates, work });
        let rest = REST[usize::from(!name.is_empty())];
        held(&self.work).push(tokio::spawn(behind::work(app.clone(), rest)));
        Ok(Arc::new(Open { name: name.to_owned(), routes: router::router(app.clone()), app, folder, shows }))
    }

    /// The certificates of a shop. Processes that begin at the same moment make them one after the other.
    fn certificates(&self, (folder, name): (&Path, &str), hub: Uuid) -> Result<Certificates, TlsError> {
        let _alone = alone(&self.terms.folder)?;
        let (hosts, now_ms) = (&self.terms.hosts, self.terms.clock.now_ms());
        if name.is_empty() {
            let hosts: Vec<String> = hosts.iter().cloned().chain([host_of(hub)]).collect();
            return Certificates::open(folder, &hosts, now_ms);
        }
        Certificates::for_names(folder, names_of(name, hub, hosts), now_ms)
    }

    /// Shows a new certificate of each shop that is open before the one it shows ends.
    pub(crate) fn renew(&self) {
        for open in self.all_open() {
            let renewed = self.certificates((&open.folder, &open.name), open.app.hub);
            match renewed.and_then(|certificates| certificates.serving()) {
                Ok(serving) => *held(&open.shows) = serving,
                Err(error) => tracing::error!(%error, shop = open.name, "a certificate could not be looked at"),
            }
        }
    }

    /// Opens every shop, one after the other: what a process that died left to be done is done.
    ///
    /// # Errors
    /// [`StartError`] when they cannot be named; one that cannot be opened is told in the log.
    pub async fn open_all(&self) -> Result<(), StartError> {
        for row in self.storage.shops().await? {
            let Some(hub) = row.hub else { continue };
            if let Err(error) = self.open(&row, hub).await {
                tracing::error!(%error, shop = row.name, "a shop cannot be opened");
            }
        }
        Ok(())
    }

    /// Ends what is done beside the answers.
    pub(crate) fn rest(&self) {
        held(&self.work).iter().for_each(JoinHandle::abort);
    }
}

fn held<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Where the certificates of a shop are.
fn folder_of(folder: &Path, shop: &ShopRow) -> PathBuf {
    if shop.name.is_empty() { folder.to_owned() } else { folder.join("shops").join(&shop.name) }
}

/// Nobody else makes certificates here as long as this lives.
fn alone(folder: &Path) -> Result<File, TlsError> {
    let path = folder.join("tls.lock");
    let alone = File::create(&path).and_then(|file| file.lock().map(|()| file));
    alone.map_err(|source| TlsError::File { path, source })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_says_which_shop_is_asked_for() {
        let hosts = ["hub.example".to_owned(), "192.0.2.7".to_owned()];
        let hub = Uuid::from_u128(7);
        for (name, asked) in [
            (None, Asked::Only),
            (Some(HOST), Asked::Only),
            (Some("hub.example"), Asked::Only),
            (Some("localhost"), Asked::Only),
            (Some("elsewhere.example"), Asked::Only),
            (Some("loetauge.hub.example"), Asked::Named("loetauge".to_owned())),
            (Some("LOETAUGE.hub.evenwire.internal"), Asked::Named("loetauge".to_owned())),
            (Some("a.b.hub.example"), Asked::Only),
            (Some(&host_of(hub)), Asked::Hub(hub)),
        ] {
            assert_eq!(Asked::of(name, &hosts), asked, "{name:?}");
        }
        let names = names_of("loetauge", hub, &hosts);
        assert_eq!(names, ["loetauge.hub.evenwire.internal", &host_of(hub), "loetauge.hub.example"]);
        let asks = |name: &String| Asked::of(Some(name), &hosts) != Asked::Only;
        assert!(names.iter().all(asks), "each name of its certificate leads to it");
    }
}
