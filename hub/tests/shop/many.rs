//! Many shops over one database, served by one process that is this one.

use super::{MINUTE, Phone, believing, server};
use evenwire_core::record::Hash;
use evenwire_core::sync::host_of;
use evenwire_hub::app::{Clock, Rates, Shared, random_id};
use evenwire_hub::house::Asked;
use evenwire_hub::serve::{Serving, Settings, start_all};
use evenwire_hub::storage::{Postgres, ServerAddress, Setup};
use evenwire_hub::tls::HOST;
use reqwest::Client;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use tempfile::TempDir;

/// The shops.
pub struct Many {
    pub folder: TempDir,
    pub store: ServerAddress,
    ahead: Arc<AtomicI64>,
    pub serving: Serving,
}

/// The secret of the link by which the first owner of a shop comes in.
pub fn first_link(shop: &str) -> String {
    format!("the first link of {shop}")
}

/// Adds a shop to a database.
pub async fn add(store: &ServerAddress, name: &str) {
    let token = Hash::of(first_link(name).as_bytes());
    let (store, name) = (store.clone(), name.to_owned());
    let setup = Setup { id: random_id(), token, at_ms: 0 };
    let add = move || Postgres::add_shop(&store, &name, setup).unwrap().expect("nobody is called so");
    tokio::task::spawn_blocking(add).await.unwrap();
}

impl Many {
    pub async fn open(names: &[&str]) -> Many {
        let _ = rustls::crypto::ring::default_provider().install_default();
        let (folder, store, ahead) = (tempfile::tempdir().unwrap(), server::database(), Arc::<AtomicI64>::default());
        for name in names {
            add(&store, name).await;
        }
        let (machine, by) = (Clock::of_machine(), ahead.clone());
        let settings = Settings {
            folder: folder.path().join("hub"),
            store: Some(store.clone()),
            blobs: None,
            listen: SocketAddr::from(([127, 0, 0, 1], 0)),
            addresses: vec!["127.0.0.1".to_owned()],
            clock: Clock::told(move || machine.now_ms() + by.load(Ordering::SeqCst)),
            rates: Rates::a_minute(100_000, 100_000, 100_000),
        };
        let serving = start_all(settings).await.unwrap();
        Many { folder, store, ahead, serving }
    }

    pub async fn app(&self, shop: &str) -> Shared {
        let asked = Asked::Named(shop.to_owned());
        self.serving.house.shop(&asked).await.unwrap().expect("a shop of that name").app.clone()
    }

    /// A client that asks for the shop by `host`.
    pub async fn client(&self, shop: &str, host: &str) -> Client {
        let app = self.app(shop).await;
        believing(app.certificates.authority(), (host, self.serving.listens)).build().unwrap()
    }

    /// A phone that was taken into a shop, with a token.
    pub async fn phone(&self, shop: &str, name: &str) -> Phone {
        let client = self.client(shop, &host(shop)).await;
        let mut phone = self.led_to(shop, Phone::of(random_id(), client, name)).await;
        phone.pair_at(&*self.app(shop).await, true).await;
        phone.sign_in().await;
        phone
    }

    /// The same phone as it comes to that shop.
    pub async fn led_to(&self, shop: &str, phone: Phone) -> Phone {
        let app = self.app(shop).await;
        let host = host_of(app.hub);
        let (client, port) = (self.client(shop, &host).await, self.serving.listens.port());
        Phone { client, hub: app.hub, host, port, token: String::new(), ..phone }
    }

    pub fn pass(&self, minutes: i64) {
        self.ahead.fetch_add(minutes * MINUTE, Ordering::SeqCst);
    }

    /// All that is done beside the answers is done.
    pub async fn settle(&self) {
        for open in self.serving.house.all_open() {
            evenwire_hub::behind::work_off(&open.app).await.unwrap();
        }
    }
}

/// The name people reach a shop by.
pub fn host(shop: &str) -> String {
    format!("{shop}.{HOST}")
}
