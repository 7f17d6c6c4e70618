//! What a hub says of what it keeps: its doctor and its counts.

mod shop;

use evenwire_hub::serve::{StartError, examine_store};
use shop::Shop;

#[tokio::test]
async fn a_file_that_decayed_or_is_gone_is_asked_for_again() {
    let mut shop = Shop::open().await;
    let mut phone = shop.busy_phone().await;
    let photo = evenwire_core::record::Hash::of(b"a plate");
    for damage in ["decayed", "gone"] {
        let name = photo.to_string();
        let file = shop.hub_folder().join("blobs").join(&name[..2]).join(&name);
        match damage {
            "decayed" => std::fs::write(&file, b"another plate").unwrap(),
            _ => std::fs::remove_file(&file).unwrap(),
        }
        assert!(
            matches!(examine_store(&shop.hub_folder(), shop.store.as_ref(), None).await, Err(StartError::Storage(_))),
            "it runs"
        );
        shop.stop().await;
        let found = examine_store(&shop.hub_folder(), shop.store.as_ref(), None).await.unwrap();
        assert_eq!((found.lost, found.wrong), (vec![photo], vec![]), "{damage}");
        shop.begin_again().await;
        phone.move_to(&shop);
        assert_eq!(phone.tail().await.unwrap().missing, 1);
        assert_eq!(phone.missing(&[photo]).await.unwrap(), [photo]);
        phone.put(photo, b"a plate").await.unwrap();
        assert_eq!(phone.tail().await.unwrap().missing, 0);
    }
}

#[tokio::test]
async fn what_is_here_is_counted_on_the_machine_itself() {
    let shop = Shop::open().await;
    let phone = shop.busy_phone().await;
    let (at, answering) = evenwire_hub::metrics::listen(shop.hub().house(), 0).await.unwrap();
    assert!(at.ip().is_loopback());
    let answering = tokio::spawn(answering);
    let told = phone.client.get(format!("http://{at}/metrics")).send().await.unwrap().text().await.unwrap();
    for line in ["devices 1", "entries 2", "blobs 2", "missing 0", "stale_lines 0", "forks 0", "quarantine 0"] {
        assert!(told.contains(&format!("\nevenwire_hub_{line}\n")), "{line}: {told}");
    }
    answering.abort();
    let outside = phone.request(reqwest::Method::GET, "/metrics").send().await.unwrap();
    assert_eq!(outside.status(), 404, "not where devices come in");
}
