//! The office over TLS: who comes in, and who may what.

mod seat;
mod shop;

use evenwire_hub::app::{Rates, random_id};
use evenwire_hub::tls::HOST;
use reqwest::{Method, StatusCode};
use seat::{PASSWORD, Seat, begun, set_up};
use serde_json::{Value, json};
use shop::{Shop, believing};
use std::net::IpAddr;

#[tokio::test]
async fn the_first_link_makes_an_owner_once_and_the_cookie_is_only_for_the_browser() {
    let shop = Shop::open().await;
    let outside = Seat::outside(&shop);
    assert_eq!(outside.get("/v1/office/session").await, json!({ "shop": "", "set_up": false, "person": null }));
    let token = shop.hub().setup.clone().unwrap();
    let short = json!({ "token": token, "name": "T", "shop": "", "password": "nine char" });
    assert_eq!(outside.post("/v1/office/set-up", short).await.code(), "password-short");
    assert_eq!(outside.post("/v1/office/set-up", set_up(&token, " ")).await.code(), "name-wrong");
    assert_eq!(outside.post("/v1/office/set-up", set_up("another", "Toma Quell")).await.code(), "link-over");
    let came = outside.post("/v1/office/set-up", set_up(&token, "Toma Quell")).await;
    let cookie = came.headers["set-cookie"].to_str().unwrap();
    for wanted in ["__Host-evenwire-office=", "Secure", "HttpOnly", "SameSite=Strict", "Path=/;"] {
        assert!(cookie.contains(wanted), "{cookie}");
    }
    assert_eq!(outside.post("/v1/office/set-up", set_up(&token, "Somebody else")).await.code(), "link-over");
    let session = Seat::sign_in(&shop, " toma  QUELL ").await.get("/v1/office/session").await;
    assert_eq!((&session["shop"], &session["person"]["role"]), (&json!("Lötauge & Sohn"), &json!("owner")));
}

fn told(line: &Value) -> (&str, &str) {
    (line["what"].as_str().unwrap(), line["name"].as_str().unwrap())
}

#[tokio::test]
async fn a_wrong_password_a_wrong_name_and_too_many_tries_are_refused_and_written_down() {
    let shop = Shop::open_with(Rates::a_minute(10, 10, 4)).await;
    let owner = begun(&shop).await;
    for (name, password) in [("Toma Quell", "copper kettl"), ("Nobody", PASSWORD), ("Toma Quell", "")] {
        let came = owner.post("/v1/office/sign-in", json!({ "name": name, "password": password })).await;
        assert_eq!((came.status, came.code()), (StatusCode::UNAUTHORIZED, "wrong-password"));
    }
    let came = owner.post("/v1/office/sign-in", json!({ "name": "Toma Quell", "password": PASSWORD })).await;
    assert_eq!((came.status, came.code()), (StatusCode::TOO_MANY_REQUESTS, "too-often"));
    let log = owner.get("/v1/office/access").await;
    let lines: Vec<(&str, &str)> = log["lines"].as_array().unwrap().iter().map(told).collect();
    let toma = "Toma Quell";
    assert_eq!(lines, [("refused", toma), ("refused", ""), ("refused", toma), ("signed-in", toma)]);
}

#[tokio::test]
async fn a_machine_that_tries_passwords_and_codes_locks_out_itself_alone() {
    let shop = Shop::open_with(Rates::a_minute(3, 10, 4)).await;
    let authority = shop.hub().app.certificates.authority();
    let from = |address: [u8; 4]| believing(authority, (HOST, shop.hub().listens)).local_address(IpAddr::from(address));
    let sits_at = |address| Seat::at(from(address).build().unwrap(), (HOST, shop.hub().listens.port()));
    let owner = sits_at([127, 0, 0, 2]).comes_in(shop.hub().setup.as_ref().unwrap()).await;
    let (guesses, wrong) = (sits_at([127, 0, 0, 3]), json!({ "name": "Toma Quell", "password": "copper kettl" }));
    let mut said = Vec::new();
    for elsewhere in ["192.0.2.1", "192.0.2.2", "192.0.2.3", "192.0.2.4", "192.0.2.5"] {
        let asked = guesses.request(Method::POST, "/v1/office/sign-in").header("x-forwarded-for", elsewhere);
        said.push(asked.header("forwarded", format!("for={elsewhere}")).json(&wrong).send().await.unwrap().status());
    }
    let (refused, too_often) = (StatusCode::UNAUTHORIZED, StatusCode::TOO_MANY_REQUESTS);
    assert_eq!(said, [refused, refused, refused, refused, too_often], "whatever it says of where it comes from");
    let good = json!({ "name": "Toma Quell", "password": PASSWORD });
    assert_eq!(guesses.post("/v1/office/sign-in", good.clone()).await.code(), "too-often");
    assert_eq!(owner.another().post("/v1/office/sign-in", good).await.status, StatusCode::NO_CONTENT);

    let mut phone = shop::Phone::new(&shop, "Bench 1");
    let mut invitation = shop.hub().app.invite(None).await.unwrap();
    let ask = phone.pairing_ask(&invitation);
    invitation.code = "0000000000".to_owned();
    let guess = phone.pairing_ask(&invitation);
    for expected in ["code", "code", "code", "too-often"] {
        assert_eq!(shop::code(phone.ask_pairing(&guess).await), expected);
    }
    assert_eq!(shop::code(phone.ask_pairing(&ask).await), "too-often");
    phone.client = from([127, 0, 0, 3]).build().unwrap();
    phone.ask_pairing(&ask).await.unwrap();
}

/// Method, path, and the least role: 0 whoever is signed in, 1 the office, 2 the owner.
const ROUTES: [(&str, &str, u8); 22] = [
    ("GET", "/v1/office/today", 0),
    ("GET", "/v1/office/devices", 0),
    ("GET", "/v1/office/procedures", 0),
    ("GET", "/v1/jobs", 0),
    ("GET", "/v1/jobs/ID", 0),
    ("GET", "/v1/jobs/ID/report.pdf", 0),
    ("GET", "/v1/jobs/ID/claim.zip", 0),
    ("GET", "/v1/jobs/ID/photos/HASH", 0),
    ("POST", "/v1/office/password", 0),
    ("POST", "/v1/office/invitations", 1),
    ("POST", "/v1/office/pairings/ID", 1),
    ("POST", "/v1/office/devices/ID/revoke", 1),
    ("POST", "/v1/office/procedures", 1),
    ("POST", "/v1/jobs/ID/erasure", 1),
    ("POST", "/v1/jobs/ID/signatures", 1),
    ("GET", "/v1/office/people", 2),
    ("GET", "/v1/office/access", 2),
    ("POST", "/v1/office/people", 2),
    ("POST", "/v1/office/people/ID", 2),
    ("DELETE", "/v1/office/people/ID", 2),
    ("POST", "/v1/office/people/ID/link", 2),
    ("POST", "/v1/office/sign-out", 0),
];

#[tokio::test]
async fn who_may_what() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let office = owner.added(&shop, "Ines Falk", "office").await;
    let technician = owner.added(&shop, "Bodo Rain", "technician").await;
    let outside = Seat::outside(&shop);
    let id = random_id().to_string();
    for (method, path, least) in ROUTES {
        let path = path.replace("HASH", &"ab".repeat(32)).replace("ID", &id);
        let method = Method::from_bytes(method.as_bytes()).unwrap();
        let body = (method == Method::POST).then(|| json!({}));
        let came = outside.ask(method.clone(), &path, body.clone()).await;
        assert_eq!((came.status, came.code()), (StatusCode::UNAUTHORIZED, "signed-out"), "{path}");
        for (role, seat) in [(0, &technician), (1, &office), (2, &owner)] {
            // The cookie alone, as another page would send it, and with what is another session's.
            for csrf in ["", owner.csrf.as_str(), technician.csrf.as_str()] {
                if method == Method::GET || csrf == seat.csrf {
                    continue;
                }
                let stolen = seat.showing(&shop, csrf);
                let came = stolen.ask(method.clone(), &path, body.clone()).await;
                assert_eq!((came.status, came.code()), (StatusCode::FORBIDDEN, "stale-page"), "{path}");
            }
            if path.ends_with("sign-out") {
                continue;
            }
            let came = seat.ask(method.clone(), &path, body.clone()).await;
            let refused = (came.status, came.code()) == (StatusCode::FORBIDDEN, "not-allowed");
            assert_eq!(refused, role < least, "{method} {path} as {role}: {} {}", came.status, came.body);
            assert!(!came.status.is_server_error() && came.status != StatusCode::UNAUTHORIZED, "{path}");
        }
    }
    technician.done("/v1/office/sign-out", json!({})).await;
    assert_eq!(technician.look("/v1/office/today").await.code(), "signed-out", "whoever kept its cookie");
}

#[tokio::test]
async fn a_session_ends_with_the_day_with_the_person_and_with_a_new_password() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let ines = owner.added(&shop, "Ines Falk", "office").await;
    assert_eq!(
        owner.post("/v1/office/people", json!({ "name": "INES falk", "role": "owner" })).await.code(),
        "name-taken"
    );
    let path = format!("/v1/office/people/{}", owner.id_of("Ines Falk").await);
    let link = owner.post(&format!("{path}/link"), json!({})).await.body["token"].as_str().unwrap().to_owned();
    ines.get("/v1/office/today").await;
    let new = json!({ "token": link, "name": "", "shop": "", "password": "brass kettle" });
    Seat::outside(&shop).done("/v1/office/set-up", new.clone()).await;
    assert_eq!(ines.look("/v1/office/today").await.code(), "signed-out", "another password was chosen");
    assert_eq!(Seat::outside(&shop).post("/v1/office/set-up", new).await.code(), "link-over");

    let bodo = owner.added(&shop, "Bodo Rain", "technician").await;
    let path = format!("/v1/office/people/{}", owner.id_of("Bodo Rain").await);
    assert_eq!(bodo.post("/v1/office/invitations", json!({})).await.code(), "not-allowed");
    owner.done(&path, json!({ "name": "Bodo Rain", "role": "office" })).await;
    assert_eq!(bodo.post("/v1/office/invitations", json!({})).await.status, StatusCode::OK, "at once");
    assert_eq!(owner.ask(Method::DELETE, &path, None).await.status, StatusCode::NO_CONTENT);
    assert_eq!(bodo.look("/v1/office/today").await.code(), "signed-out", "taken off");
    owner.added(&shop, "Bodo Rain", "technician").await;

    let own = format!("/v1/office/people/{}", owner.id_of("Toma Quell").await);
    assert_eq!(owner.ask(Method::DELETE, &own, None).await.code(), "last-owner");
    assert_eq!(owner.post(&own, json!({ "name": "Toma Quell", "role": "office" })).await.code(), "last-owner");

    let late = owner.post("/v1/office/people", json!({ "name": "Late", "role": "office" })).await;
    shop.pass(12 * 60 * shop::MINUTE + 1);
    assert_eq!(owner.look("/v1/office/today").await.code(), "signed-out", "a working day is over");
    shop.pass(4 * 24 * 60 * shop::MINUTE);
    let late = set_up(late.body["token"].as_str().unwrap(), "");
    assert_eq!(Seat::outside(&shop).post("/v1/office/set-up", late).await.code(), "link-over", "four days are over");
}

#[tokio::test]
async fn the_page_runs_nothing_but_its_own_files_and_stands_in_no_frame() {
    let shop = Shop::open().await;
    let outside = Seat::outside(&shop);
    for path in ["/office/", "/office/assets/none.js", "/office/../hub.sqlite", "/office/index.html"] {
        let came = outside.look(path).await;
        if path != "/office/" {
            assert_eq!(came.status, StatusCode::NOT_FOUND, "{path}");
            continue;
        }
        assert_eq!(came.status, StatusCode::OK, "built without its page: run `make page`, then build again");
        let header = |name: &str| came.headers[name].to_str().unwrap();
        let policy = header("content-security-policy");
        for wanted in ["default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'"] {
            assert!(policy.contains(wanted), "{policy}");
        }
        assert!(!policy.contains("unsafe"), "{policy}");
        assert_eq!((header("x-content-type-options"), header("referrer-policy")), ("nosniff", "no-referrer"));
        let text = String::from_utf8(came.bytes).unwrap();
        assert!(text.contains("./assets/") && !text.contains("<script>") && !text.contains("<style"), "{text}");
    }
    // What is no JSON by its own word is not read: a form of another page sends such.
    let owner = begun(&shop).await;
    let came = owner.ask(Method::POST, "/v1/office/people", None).await;
    assert_eq!((came.status, came.code()), (StatusCode::BAD_REQUEST, "unreadable"));
}

#[tokio::test]
async fn what_is_larger_than_anything_the_page_sends_is_said_to_be_so() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let text = "x".repeat(2 * evenwire_core::procedure::MAX_FILE + 2_000);
    let came = owner.post("/v1/office/procedures", json!({ "text": text })).await;
    assert_eq!((came.status, came.code()), (StatusCode::PAYLOAD_TOO_LARGE, "too-large"));
    let came = owner.post("/v1/office/procedures", json!({ "text": 7 })).await;
    assert_eq!((came.status, came.code()), (StatusCode::BAD_REQUEST, "unreadable"));
}
