//! What simulated shops have found, told by itself.

use super::*;
use uuid::Uuid;

/// Runs a story in a shop with one device.
fn in_a_shop<F: AsyncFnOnce(&mut Shop) -> Result<()>>(story: F) {
    let place = tempfile::tempdir().unwrap();
    let tls = hub::certificates(&place.path().join("made")).unwrap();
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(async {
        let mut shop = Shop::begin(1, (&place.path().join("shop"), &tls)).await.unwrap();
        shop.new_phone().await.unwrap();
        story(&mut shop).await.unwrap();
    });
}

impl Shop {
    fn job(&self) -> Uuid {
        let mut desk = held(&self.phones[0].desk);
        desk.open_job(None).unwrap();
        let opened = desk.entries().unwrap();
        opened.last().unwrap().entry().job.unwrap()
    }

    fn photos(&self, job: Uuid, count: u32) {
        (0..count).for_each(|_| held(&self.phones[0].desk).photo(job).unwrap());
    }

    async fn sends(&mut self, plan: &[(u32, Mid)]) -> Result<Option<Trouble>> {
        self.round(0, (plan.iter().copied().collect(), None)).await
    }
}

#[test]
fn a_ledger_that_is_put_back_after_more_was_sent_goes_on_under_another_id() {
    in_a_shop(async |shop| {
        shop.phones[0].copy()?;
        let job = shop.job();
        shop.photos(job, 1);
        assert_eq!(shop.sends(&[]).await?, None);
        // Its program was ended without a farewell: only what left the device tells how far it had come.
        assert!(shop.phones[0].put_back(0, false)?);
        assert_eq!(shop.sends(&[]).await?, Some(Trouble::OtherIdentity));
        shop.take_in(0).await?;
        assert_eq!(shop.sends(&[]).await?, None);
        Ok(())
    });
}

#[test]
fn what_is_recorded_while_it_sends_is_noted_beside_its_key_too() {
    in_a_shop(async |shop| {
        let job = shop.job();
        let finished = evenwire_core::record::Event::JobFinished {}.parts();
        held(&shop.phones[0].desk).write(Some(job), finished, Default::default())?;
        assert_eq!(shop.sends(&[]).await?, None);
        shop.phones[0].copy()?;
        let (app, now) = held(&shop.hub).running();
        assert!(app.storage.erase_job(job, now).await?);
        held(&shop.hub).said.erased.insert(job);
        // The device erases, too, and brings the entry of it in the same round.
        assert_eq!(shop.sends(&[]).await?, None);
        assert!(shop.phones[0].put_back(0, false)?);
        assert_eq!(shop.sends(&[]).await?, Some(Trouble::OtherIdentity));
        Ok(())
    });
}

#[test]
fn a_hub_that_lost_things_is_found_out_even_when_as_many_were_not_sent_yet() {
    in_a_shop(async |shop| {
        let job = shop.job();
        shop.photos(job, 1);
        // Card, token, tail, entries, which are missing: the first of them is not brought any more.
        assert_eq!(shop.sends(&[(6, Mid::Cut)]).await?, Some(Trouble::Unreachable));
        held(&shop.hub).copy()?;
        assert_eq!(shop.sends(&[]).await?, None);
        // It was looked at what these name, and they were not sent.
        shop.photos(job, 4);
        assert_eq!(shop.sends(&[(4, Mid::Cut)]).await?, Some(Trouble::Unreachable));
        shop.there = None;
        assert!(at_once(held(&shop.hub).put_back(0))?);
        assert_eq!(shop.sends(&[]).await?, None, "and everything is there");
        Ok(())
    });
}

#[test]
fn a_hub_whose_older_copy_was_put_back_is_brought_everything_once_more() {
    in_a_shop(async |shop| {
        let job = shop.job();
        assert_eq!(shop.sends(&[]).await?, None);
        held(&shop.hub).copy()?;
        shop.photos(job, 3);
        assert_eq!(shop.sends(&[]).await?, None);
        shop.there = None;
        assert!(at_once(held(&shop.hub).put_back(0))?);
        assert_eq!(shop.sends(&[]).await?, None, "and everything is there");
        Ok(())
    });
}
