//! The handle to what goes between this device and those near by: at most one job at a time is offered.

use super::door::{Door, Room};
use super::taker::{Fetched, fetch};
use crate::clock::{boot_millis, later, wall};
use evenwire_core::sync::{
    CODE_LENGTH, OFFER_HOST, OFFER_LASTS, Offer, OfferTrouble, Offering, is_near, near_by, one_time_code, serving,
};
use evenwire_core::unit::Millis;
use rcgen::{CertificateParams, DistinguishedName, DnType, KeyPair, PKCS_ED25519};
use std::net::{IpAddr, SocketAddr, TcpListener};
use std::sync::Arc;
use tokio::sync::watch;
use uuid::Uuid;

/// How a job goes to a device on the same network.
#[derive(Clone, Debug)]
pub struct NearSetting {
    /// Where it is offered; none: at the addresses of this machine that devices near by reach. Others are left out.
    pub addresses: Option<Vec<IpAddr>>,
    /// How long it is offered.
    pub lasts: Millis,
    /// How long another device may be silent while a job is fetched from it.
    pub silence: Millis,
}

impl Default for NearSetting {
    fn default() -> NearSetting {
        NearSetting { addresses: None, lasts: OFFER_LASTS, silence: Millis(20_000) }
    }
}

/// What is offered, as everybody who holds the handle sees and changes it.
pub(super) type Standing = Arc<watch::Sender<Option<Offering>>>;

/// A handle; clones reach the same offer.
#[derive(Clone, Debug)]
pub struct Near {
    setting: NearSetting,
    standing: Standing,
    /// How many threads listen: one, or a second one for the moment in which the one before ends.
    listening: Arc<watch::Sender<u32>>,
    /// Closed when the bench has ended; listening ends with it.
    over: watch::Receiver<()>,
}

impl Near {
    /// Offers nothing yet. Nobody listens before something is offered.
    pub fn new(setting: NearSetting, over: watch::Receiver<()>) -> Near {
        let (standing, listening) = (Arc::new(watch::Sender::new(None)), Arc::new(watch::Sender::new(0)));
        Near { setting, standing, listening, over }
    }

    /// What is offered, now and whenever it changes.
    pub(crate) fn standing(&self) -> watch::Receiver<Option<Offering>> {
        self.standing.subscribe()
    }

    /// Offers the file of a job under a new code. What was offered before is not any more.
    ///
    /// # Errors
    /// [`OfferTrouble::NoListening`]; then nothing is offered.
    pub(crate) fn offer(&self, job: Uuid, file: Vec<u8>) -> Result<(), OfferTrouble> {
        self.end();
        self.begin(job, file).map_err(|why| {
            tracing::error!(why, "a job cannot be offered");
            OfferTrouble::NoListening
        })
    }

    /// Fetches what the text offers. May be done again.
    ///
    /// # Errors
    /// [`OfferTrouble`].
    pub(crate) async fn fetch(&self, text: &str) -> Result<Fetched, OfferTrouble> {
        fetch(text, self.setting.silence).await
    }

    /// Offers nothing any more, whatever is being fetched.
    pub(crate) fn end(&self) {
        self.standing.send_if_modified(|standing| standing.take().is_some());
    }

    /// Waits until nobody listens any more.
    pub(crate) async fn ended(&self) {
        let mut listening = self.listening.subscribe();
        // The sender is held here.
        let _none = listening.wait_for(|threads| *threads == 0).await;
    }

    fn begin(&self, job: Uuid, file: Vec<u8>) -> Result<(), String> {
        let said = |error: &dyn std::fmt::Display| error.to_string();
        let mut random = [0; CODE_LENGTH];
        getrandom::fill(&mut random).map_err(|e| said(&e))?;
        let code = one_time_code(random);
        let (certificate, key) = certificate().map_err(|e| said(&e))?;
        let shows = serving(vec![certificate.clone()], key).map_err(|e| said(&e))?;
        let listeners = self.listeners();
        let addresses: Vec<String> =
            listeners.iter().filter_map(|listener| Some(listener.local_addr().ok()?.to_string())).collect();
        if addresses.is_empty() {
            return Err("nothing can be listened at".to_owned());
        }
        let offer = Offer::new(addresses, &certificate, code.clone());
        let lasts = self.setting.lasts;
        let until = later(&wall(), lasts.0);
        let offering = Offering::begin(job, &offer, (boot_millis(), lasts), until).ok_or("too long for a picture")?;
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(|e| said(&e))?;
        let room = Room { file: file.into(), code, standing: self.standing.clone() };
        let door = Door { listeners, shows, room: Arc::new(room), lasts, over: self.over.clone() };
        let _before = self.standing.send_replace(Some(offering));
        let listens = Listens::begin(&self.listening);
        let thread = std::thread::Builder::new().name("evenwire-offer".into()).spawn(move || {
            let _until_the_end = listens;
            runtime.block_on(door.serve());
        });
        thread.map(drop).map_err(|error| {
            self.end();
            said(&error)
        })
    }

    /// One at each address, at a port the system chooses. What cannot be listened at is left out.
    fn listeners(&self) -> Vec<TcpListener> {
        let addresses = self.setting.addresses.clone().unwrap_or_else(of_this_machine);
        let listen = |ip: IpAddr| {
            let listener = TcpListener::bind(SocketAddr::new(ip, 0));
            listener.and_then(|listener| listener.set_nonblocking(true).map(|()| listener)).ok()
        };
        addresses.into_iter().filter(|ip| is_near(*ip)).filter_map(listen).collect()
    }
}

/// Where devices on the same network reach this machine; the machine itself where it is in none.
fn of_this_machine() -> Vec<IpAddr> {
    let found = if_addrs::get_if_addrs().unwrap_or_else(|error| {
        tracing::warn!(%error, "the system does not tell the addresses of this machine");
        Vec::new()
    });
    near_by(found.iter().map(if_addrs::Interface::ip))
}

impl Default for Near {
    /// At a bench that has ended.
    fn default() -> Near {
        Near::new(NearSetting::default(), watch::channel(()).1)
    }
}

/// Counted for as long as somebody listens.
struct Listens(Arc<watch::Sender<u32>>);

impl Listens {
    fn begin(listening: &Arc<watch::Sender<u32>>) -> Listens {
        listening.send_modify(|threads| *threads += 1);
        Listens(listening.clone())
    }
}

impl Drop for Listens {
    fn drop(&mut self) {
        self.0.send_modify(|threads| *threads -= 1);
    }
}

/// A certificate for one offer (DER), and its key (PKCS #8). How long it is good says nothing: the clock of the other device
/// may be wrong, and the offer ends by the clock of this one.
pub(super) fn certificate() -> Result<(Vec<u8>, Vec<u8>), rcgen::Error> {
    let key = KeyPair::generate_for(&PKCS_ED25519)?;
    let mut params = CertificateParams::new(vec![OFFER_HOST.to_owned()])?;
    params.distinguished_name = DistinguishedName::new();
    params.distinguished_name.push(DnType::CommonName, "Evenwire");
    let made = params.self_signed(&key)?;
    Ok((made.der().to_vec(), key.serialize_der()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_machine_is_told_by_addresses_near_by() {
        let told = of_this_machine();
        assert!(!told.is_empty() && told.into_iter().all(is_near));
    }
}
