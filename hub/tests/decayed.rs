//! One ledger that decayed in the hub's file keeps nothing else from being brought, listed or proved.

mod shop;

use evenwire_core::record::{Event, Hash, SignedHead, SignedJob};
use evenwire_hub::app::random_id;
use evenwire_hub::storage::FILE;
use shop::Shop;

/// Changes bytes of what the first device brought, as a disk might.
fn decay(shop: &Shop, how: &str) {
    let file = rusqlite::Connection::open(shop.folder.path().join("hub").join(FILE)).unwrap();
    let sql = format!("DROP TRIGGER batch_never_changes; UPDATE batch SET bytes = {how} WHERE place >> 40 = 1");
    file.execute_batch(&sql).unwrap();
}

#[tokio::test]
async fn a_job_that_decayed_in_one_ledger_keeps_no_other_from_the_list() {
    for (how, framed) in [
        ("CAST(replace(bytes, 'W-1', 'W-7') AS BLOB)", true),
        ("CAST(substr(bytes, 1, length(bytes) - 1) AS BLOB)", false),
    ] {
        let shop = Shop::open().await;
        let (mut first, mut second) = (shop.phone("Bench 1").await, shop.phone("Bench 2").await);
        let job = random_id();
        let opened = |order: &str| Event::JobOpened {
            order: order.to_owned(),
            vehicle: String::new(),
            personal: Hash::of(b"details"),
        };
        for (phone, order) in [(&mut first, "W-1"), (&mut second, "W-2")] {
            phone.write(Some(job), &opened(order));
            phone.push_from(1).await.unwrap();
        }
        shop.settle().await;
        let storage = &shop.hub().app.storage;
        let orders = async |job| -> Vec<String> {
            storage.lines_of(job).await.unwrap().into_iter().map(|row| row.line.order).collect()
        };
        assert_eq!(orders(job).await, ["W-1", "W-2"]);
        decay(&shop, how);
        let another = random_id();
        second.write(Some(job), &Event::ConductorChosen { conductor: 1 });
        second.write(Some(another), &opened("W-3"));
        second.push_from(2).await.unwrap();
        shop.settle().await;
        assert_eq!(orders(another).await, ["W-3"], "{how}");
        let rows = storage.lines_of(job).await.unwrap();
        assert_eq!(rows.iter().map(|row| row.entries).collect::<Vec<_>>(), [1, 2], "{how}");
        // The record of both says what is not as it was written, and that of the other is whole.
        assert!(storage.versions(job).await.is_err_and(|error| error.to_string().contains("not as it was written")));
        assert_eq!(storage.versions(another).await.unwrap()[0].1.len(), 1);
        // A head of its job is looked at by the hashes that were noted.
        if framed {
            let entry = &first.ledger[0];
            let job = Some(SignedJob::of(job, [entry.hash()]));
            let signed = SignedHead { device: first.id, sequence: 1, hash: entry.hash(), job };
            let stored = first.heads(vec![signed.sign(&first.key)]).await.unwrap();
            assert_eq!((stored.stored, stored.passed_over), (1, 0));
        }
    }
}
