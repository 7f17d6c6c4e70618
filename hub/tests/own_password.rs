//! Whoever is signed in chooses another password, over TLS.

mod seat;
mod shop;

use evenwire_core::record::Hash;
use evenwire_hub::app::Rates;
use evenwire_hub::tls::HOST;
use reqwest::{Method, StatusCode};
use seat::{Came, PASSWORD, Seat, begun, set_up};
use serde_json::json;
use shop::{Shop, believing};
use std::net::IpAddr;

const NEW: &str = "brass kettle";

async fn changes(seat: &Seat, old: &str, new: &str) -> Came {
    seat.post("/v1/office/password", json!({ "old": old, "new": new })).await
}

async fn signs_in(seat: &Seat, name: &str, password: &str) -> Came {
    seat.another().post("/v1/office/sign-in", json!({ "name": name, "password": password })).await
}

#[tokio::test]
async fn everybody_chooses_another_password_and_is_signed_out_everywhere_else() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let office = owner.added(&shop, "Ines Falk", "office").await;
    let technician = owner.added(&shop, "Bodo Rain", "technician").await;
    for (seat, name) in [(&technician, "Bodo Rain"), (&office, "Ines Falk"), (&owner, "Toma Quell")] {
        let elsewhere = Seat::sign_in(&shop, name).await;
        let link = owner.post(&format!("/v1/office/people/{}/link", owner.id_of(name).await), json!({})).await;
        elsewhere.get("/v1/office/today").await;
        let came = changes(seat, PASSWORD, NEW).await;
        assert_eq!((came.status, came.bytes.len()), (StatusCode::NO_CONTENT, 0), "{}", came.body);
        assert!(!came.headers.contains_key("set-cookie"));
        assert_eq!(elsewhere.look("/v1/office/today").await.code(), "signed-out", "{name} elsewhere");
        assert_eq!(signs_in(seat, name, PASSWORD).await.code(), "wrong-password");
        assert_eq!(signs_in(seat, name, NEW).await.status, StatusCode::NO_CONTENT);
        let link = set_up(link.body["token"].as_str().unwrap(), "");
        assert_eq!(owner.another().post("/v1/office/set-up", link).await.code(), "link-over", "a link made before");
        // The session that asked goes on, with what it may, and with the password that holds now.
        seat.get("/v1/office/today").await;
        assert_eq!(changes(seat, NEW, "copper kettle, lid on").await.status, StatusCode::NO_CONTENT);
        for other in [&technician, &office, &owner] {
            other.get("/v1/office/today").await;
        }
    }
}

#[tokio::test]
async fn without_the_old_password_nothing_changes_and_the_try_is_written_down() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let elsewhere = Seat::sign_in(&shop, "Toma Quell").await;
    for (old, new, expected) in [
        ("copper kettl", NEW, "wrong-password"),
        ("", NEW, "wrong-password"),
        (NEW, NEW, "wrong-password"),
        (PASSWORD, "nine char", "password-short"),
        (PASSWORD, &"x".repeat(201), "password-short"),
        ("copper kettl", "nine char", "password-short"),
    ] {
        assert_eq!(changes(&owner, old, new).await.code(), expected, "{old:?} {new:?}");
    }
    for unread in [json!({}), json!({ "old": PASSWORD }), json!({ "old": PASSWORD, "new": NEW, "person": "another" })] {
        assert_eq!(owner.post("/v1/office/password", unread).await.code(), "unreadable");
    }
    let forged = owner.without_token();
    assert_eq!(
        changes(&forged, PASSWORD, NEW).await.code(),
        "stale-page",
        "the cookie alone, as another page sends it"
    );
    assert_eq!(changes(&owner.another(), PASSWORD, NEW).await.code(), "signed-out");
    elsewhere.get("/v1/office/devices").await;
    assert_eq!(signs_in(&owner, "Toma Quell", NEW).await.code(), "wrong-password");
    assert_eq!(changes(&owner, PASSWORD, NEW).await.status, StatusCode::NO_CONTENT);

    let log = owner.get("/v1/office/access").await;
    let lines: Vec<_> = log["lines"].as_array().unwrap().iter().map(|line| line["what"].as_str().unwrap()).collect();
    assert_eq!(lines, ["password", "refused", "refused", "refused", "refused", "signed-in", "signed-in"]);
    let newest = &log["lines"][0];
    assert_eq!((&newest["name"], &newest["about"]), (&json!("Toma Quell"), &json!("")));
    for secret in [PASSWORD, NEW, "copper kettl", "argon2"] {
        assert!(!log.to_string().contains(secret), "{log}");
    }
}

#[tokio::test]
async fn tries_at_the_old_password_are_counted_as_those_of_signing_in() {
    let shop = Shop::open_with(Rates::a_minute(10, 10, 4)).await;
    let owner = begun(&shop).await;
    for _ in 0..5 {
        assert_eq!(changes(&owner, PASSWORD, "short").await.code(), "password-short", "no try at a password");
    }
    for _ in 0..3 {
        assert_eq!(changes(&owner, "copper kettl", NEW).await.code(), "wrong-password");
    }
    let came = changes(&owner, PASSWORD, NEW).await;
    assert_eq!((came.status, came.code()), (StatusCode::TOO_MANY_REQUESTS, "too-often"));
    assert_eq!(signs_in(&owner, "Toma Quell", PASSWORD).await.code(), "too-often", "the same tries");
}

#[tokio::test]
async fn a_stolen_session_tries_a_name_from_three_machines_and_no_more() {
    let shop = Shop::open_with(Rates::a_minute(10, 10, 2)).await;
    let authority = shop.hub().app.certificates.authority();
    let sits_at = |last: u8| {
        let from = believing(authority, (HOST, shop.hub().listens)).local_address(IpAddr::from([127, 0, 0, last]));
        Seat::at(from.build().unwrap(), (HOST, shop.hub().listens.port()))
    };
    let owner = sits_at(2).comes_in(shop.hub().setup.as_ref().unwrap()).await;
    for last in [3, 4, 5] {
        for _ in 0..2 {
            assert_eq!(changes(&owner.cookie_at(&sits_at(last)), "copper kettl", NEW).await.code(), "wrong-password");
        }
    }
    assert_eq!(changes(&owner.cookie_at(&sits_at(6)), PASSWORD, NEW).await.code(), "too-often");
    assert_eq!(signs_in(&sits_at(6), "Somebody else", PASSWORD).await.code(), "wrong-password", "another name");
}

#[tokio::test]
async fn whoever_has_another_password_by_now_or_was_taken_off_is_not_given_one() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let storage = &shop.hub().app.storage;
    let before = storage.person_named("Toma Quell".to_owned()).await.unwrap().unwrap();
    let change = async |of, old: &str| {
        let hashes = (old.to_owned(), "of another".to_owned());
        storage.change_password(of, hashes, Hash::ZERO).await.unwrap()
    };
    assert!(!change(before.person.id, "of the one before").await);
    assert_eq!(storage.person_named("Toma Quell".to_owned()).await.unwrap().unwrap(), before);
    let ines = owner.added(&shop, "Ines Falk", "office").await;
    let of = storage.person_named("Ines Falk".to_owned()).await.unwrap().unwrap().person.id;
    let path = format!("/v1/office/people/{of}");
    assert_eq!(owner.ask(Method::DELETE, &path, None).await.status, StatusCode::NO_CONTENT);
    assert_eq!(changes(&ines, PASSWORD, NEW).await.code(), "signed-out");
    assert!(!change(of, "").await, "what a password is compared with is gone");
    owner.get("/v1/office/people").await;
}
