//! Being taken in by a shop, and leaving it.

use super::client::{Client, Fault, Meant};
use super::round::on_disk;
use super::worker::Worker;
use crate::key_store;
use evenwire_core::record::KeptKey;
use evenwire_core::sync::{Invitation, PairingAsk, PairingState, Proof, Trouble, six_digits};
use evenwire_store::{Delivery, Glance, PairedHub};
use tokio::time::Instant;
use uuid::Uuid;

/// The office is asked.
pub(super) struct Asked {
    client: Client,
    pairing: Uuid,
    pub(super) digits: String,
    pub(super) paired: PairedHub,
}

impl Worker {
    pub(super) fn leave(&mut self) -> Result<(), Trouble> {
        if self.asked.take().is_none() && self.book.is_some() {
            self.book(Delivery::unpair)?;
            self.due = None;
        }
        (self.trouble, self.failures) = (None, 0);
        self.publish();
        Ok(())
    }

    /// Asks the office to take the device in.
    pub(super) async fn ask_in(&mut self, invitation: &Invitation, name: String) -> Result<(), Trouble> {
        let stays = matches!(self.trouble, None | Some(Trouble::Unreachable | Trouble::Full));
        if stays && self.book.is_some() && self.book(|book| book.paired())?.is_some() {
            return Err(Trouble::PairedAlready);
        }
        let kept = self.kept_key()?;
        let (device, key) = (kept.device, key_store::held(&kept).ok_or(Trouble::KeyAway)?);
        let authority = invitation.authority().ok_or(Trouble::InvitationNotWhole)?;
        let meant =
            Meant { hub: invitation.hub, addresses: invitation.addresses.clone(), authority: authority.clone() };
        let client = Client::reach(&self.outside, &meant).await?;
        let proof = Proof { hub: invitation.hub, code: invitation.code.clone(), device, name: name.clone() };
        let ask = PairingAsk {
            code: invitation.code.clone(),
            device,
            name: name.clone(),
            key: key.public(),
            proof: proof.sign(&key),
        };
        let view = client.pair(&ask).await.map_err(Fault::trouble)?;
        let paired = PairedHub {
            hub: invitation.hub,
            shop: client.card.name.clone(),
            device_name: name,
            addresses: meant.addresses,
            authority,
            device,
        };
        let digits = six_digits(paired.hub, &paired.authority, device, &key.public());
        self.trouble = None;
        self.asked = Some(Asked { client, pairing: view.pairing, digits, paired });
        self.came_to(view.state);
        self.publish();
        // Asked once more with a code that was decided about, the answer is what was decided.
        self.trouble.map_or(Ok(()), Err)
    }

    pub(super) async fn ask_office(&mut self) {
        let Some(asked) = &self.asked else { return };
        match asked.client.pairing(asked.pairing).await {
            Ok(view) => self.came_to(view.state),
            // The next time it may answer.
            Err(Fault::Trouble(Trouble::Unreachable)) => self.trouble = Some(Trouble::Unreachable),
            Err(fault) => {
                let gone = fault.is("not-found");
                self.asked = None;
                self.trouble = Some(if gone { Trouble::Over } else { fault.trouble() });
            }
        }
    }

    fn came_to(&mut self, state: PairingState) {
        self.trouble = match state {
            PairingState::Waiting => return self.trouble = None,
            PairingState::Refused => Some(Trouble::Refused),
            PairingState::Over => Some(Trouble::Over),
            PairingState::Accepted => None,
        };
        let Some(asked) = self.asked.take() else { return };
        if state != PairingState::Accepted {
            return;
        }
        match self.book(|book| book.pair(&asked.paired)) {
            Ok(()) => (self.due, self.failures) = (Some(Instant::now()), 0),
            Err(trouble) => self.trouble = Some(trouble),
        }
    }

    fn kept_key(&self) -> Result<KeptKey, Trouble> {
        let kept = Glance::at(&self.ledger).and_then(|ledger| Ok((ledger.kept_key()?, ledger.head()?)));
        let (kept, head) = kept.map_err(|e| on_disk(&e))?;
        kept.filter(|kept| kept.device == head.device).ok_or(Trouble::OtherIdentity)
    }
}
