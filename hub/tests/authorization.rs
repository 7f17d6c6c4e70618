//! Who may ask what: every way in with everybody who could come, of this shop and of another one.

mod seat;
mod shop;

use evenwire_hub::app::random_id;
use reqwest::{Method, StatusCode};
use seat::Seat;
use serde_json::json;
use shop::many::{Many, first_link, host};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// Who may ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Who {
    /// Nobody has to say who they are.
    Everybody,
    /// A device with a token.
    Device,
    /// Whoever is signed in at the page.
    Technician,
    /// Who may change what concerns devices and jobs.
    Office,
    /// Who may change who may what.
    Owner,
    /// It is asked on the machine itself, at a port of its own: there is no such way in here.
    Elsewhere,
}
use Who::{Device, Elsewhere, Everybody, Office, Owner, Technician};

/// Every way in. Signing out comes last: nobody is signed in after it.
const WAYS: [(&str, &str, Who); 46] = [
    ("GET", "/healthz", Everybody),
    ("GET", "/readyz", Everybody),
    ("GET", "/v1/openapi.json", Everybody),
    ("GET", "/", Everybody),
    ("GET", "/office", Everybody),
    ("GET", "/office/", Everybody),
    ("GET", "/office/{*path}", Everybody),
    ("GET", "/v1/hub", Everybody),
    ("POST", "/v1/pairings", Everybody),
    ("GET", "/v1/pairings/{pairing}", Everybody),
    ("POST", "/v1/token", Everybody),
    ("GET", "/v1/office/session", Everybody),
    ("POST", "/v1/office/set-up", Everybody),
    ("POST", "/v1/office/sign-in", Everybody),
    ("GET", "/v1/devices/me", Device),
    ("POST", "/v1/devices/me/entries", Device),
    ("POST", "/v1/devices/me/heads", Device),
    ("POST", "/v1/blobs:missing", Device),
    ("PUT", "/v1/blobs/{sha256}", Device),
    ("GET", "/v1/changes", Device),
    ("GET", "/v1/handovers", Device),
    ("GET", "/v1/handovers/{job}", Device),
    ("POST", "/v1/handovers/{job}/claims", Device),
    ("GET", "/v1/office/today", Technician),
    ("GET", "/v1/office/devices", Technician),
    ("GET", "/v1/office/procedures", Technician),
    ("GET", "/v1/jobs", Technician),
    ("GET", "/v1/jobs/{job}", Technician),
    ("GET", "/v1/jobs/{job}/report.pdf", Technician),
    ("GET", "/v1/jobs/{job}/claim.zip", Technician),
    ("GET", "/v1/jobs/{job}/photos/{hash}", Technician),
    ("POST", "/v1/office/password", Technician),
    ("POST", "/v1/office/invitations", Office),
    ("POST", "/v1/office/pairings/{pairing}", Office),
    ("POST", "/v1/office/devices/{device}/revoke", Office),
    ("POST", "/v1/office/procedures", Office),
    ("POST", "/v1/jobs/{job}/erasure", Office),
    ("POST", "/v1/jobs/{job}/signatures", Office),
    ("GET", "/v1/office/people", Owner),
    ("GET", "/v1/office/access", Owner),
    ("POST", "/v1/office/people", Owner),
    ("POST", "/v1/office/people/{person}", Owner),
    ("DELETE", "/v1/office/people/{person}", Owner),
    ("POST", "/v1/office/people/{person}/link", Owner),
    ("GET", "/metrics", Elsewhere),
    ("POST", "/v1/office/sign-out", Technician),
];

/// The ways in that the program has: those that are described, and those its source names one by one.
fn found() -> BTreeSet<(String, String)> {
    let mut found = BTreeSet::new();
    let described: serde_json::Value = serde_json::from_str(&evenwire_hub::router::description()).unwrap();
    for (path, operations) in described["paths"].as_object().unwrap() {
        for method in operations.as_object().unwrap().keys() {
            found.insert((method.to_uppercase(), path.clone()));
        }
    }
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    let mut undescribed = 0;
    while let Some(folder) = folders.pop() {
        for file in fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()) {
            if file.is_dir() {
                folders.push(file);
            } else if file.extension().is_some_and(|end| end == "rs") {
                let text = fs::read_to_string(file).unwrap();
                undescribed += text.matches(".routes(routes!(").count();
                for way in text.split(".route(").enumerate().filter(|(at, _)| *at > 0).map(|(_, way)| way) {
                    found.extend(named(way));
                }
            }
        }
    }
    assert_eq!(undescribed, described_operations(&described), "each of the described ways is one");
    found
}

fn described_operations(described: &serde_json::Value) -> usize {
    described["paths"].as_object().unwrap().values().map(|operations| operations.as_object().unwrap().len()).sum()
}

/// What `"/path", get(a).post(b))` names.
fn named(way: &str) -> Vec<(String, String)> {
    let path = way.strip_prefix('"').and_then(|way| way.split('"').next()).expect("a path is written as it is");
    let ends = way.find('\n').unwrap_or(way.len());
    let methods: Vec<_> = ["get", "post", "put", "delete", "patch", "head", "options", "any", "on"]
        .into_iter()
        .filter(|method| [format!(" {method}("), format!(".{method}(")].iter().any(|call| way[..ends].contains(call)))
        .collect();
    assert!(!methods.is_empty(), "no method of {path} is known: {}", &way[..ends]);
    methods.into_iter().map(|method| (method.to_uppercase(), path.to_owned())).collect()
}

#[test]
fn every_way_in_stands_in_the_table() {
    let table: BTreeSet<(String, String)> =
        WAYS.iter().map(|(method, path, _)| ((*method).to_owned(), (*path).to_owned())).collect();
    assert_eq!(table.len(), WAYS.len());
    let found = found();
    let new: Vec<_> = found.difference(&table).collect();
    let gone: Vec<_> = table.difference(&found).collect();
    assert!(new.is_empty() && gone.is_empty(), "say who may: {new:?}; there is no more: {gone:?}");
    assert_eq!(
        named("\"/a\", get(b).post(c))\n.route(\"/d\", put(e))"),
        [("GET".into(), "/a".into()), ("POST".into(), "/a".into())]
    );
}

/// Somebody who comes, with what they show.
struct Comer {
    what: &'static str,
    /// What they are, if what they show is good.
    is: Option<Who>,
    /// They were taken off: it is known who they are, and they may not.
    revoked: bool,
    token: String,
    seat: Seat,
}

/// Words by which somebody is sent away for who they are.
const SENT_AWAY: [&str; 5] = ["token", "revoked", "signed-out", "stale-page", "not-allowed"];

/// The word by which a comer is to be sent away; none: they are heard.
fn expected(comer: &Comer, who: Who) -> Option<(u16, &'static str)> {
    match who {
        Everybody => None,
        Device if comer.is == Some(Device) => None,
        Device if comer.revoked => Some((403, "revoked")),
        Device => Some((401, "token")),
        _ => match comer.is {
            None | Some(Everybody | Device) => Some((401, "signed-out")),
            Some(role) if role < who => Some((403, "not-allowed")),
            Some(_) => None,
        },
    }
}

async fn asks(comer: &Comer, (method, path): (&str, &str)) -> (u16, String) {
    let hash = "ab".repeat(32);
    let id = random_id().to_string();
    let path = ["pairing", "job", "device", "person"]
        .iter()
        .fold(path.to_owned(), |path, name| path.replace(&format!("{{{name}}}"), &id));
    let path = path.replace("{sha256}", &hash).replace("{hash}", &hash).replace("{*path}", "assets/none.js");
    let method = Method::from_bytes(method.as_bytes()).unwrap();
    let mut request = comer.seat.request(method.clone(), &path);
    if !comer.token.is_empty() {
        request = request.bearer_auth(&comer.token);
    }
    if method == Method::POST {
        request = request.json(&json!({}));
    }
    let answer = request.send().await.unwrap();
    let status = answer.status().as_u16();
    let body: serde_json::Value = answer.json().await.unwrap_or_default();
    (status, body["code"].as_str().unwrap_or_default().to_owned())
}

/// Everybody who could come to the shop `brazing`. Their keys were good where they are from: that is made sure of.
async fn comers(many: &Many) -> Vec<Comer> {
    let outside =
        Seat::at(many.client("brazing", &host("brazing")).await, (&host("brazing"), many.serving.listens.port()));
    let there =
        Seat::at(many.client("crimping", &host("crimping")).await, (&host("crimping"), many.serving.listens.port()));
    let comer = |what, is, token: &str, seat: Seat| Comer { what, is, revoked: false, token: token.to_owned(), seat };
    let owner = outside.another().comes_in(&first_link("brazing")).await;
    let late = owner.adds("Late Riser", "owner").await;
    let old = many.phone("brazing", "Bench 0").await;
    many.pass(13 * 60);
    let owner = {
        let mut again = owner.another();
        let came = again.post("/v1/office/sign-in", json!({ "name": "Toma Quell", "password": seat::PASSWORD })).await;
        again.sit(came).await;
        again
    };
    let ended = owner.adds("Ina Gone", "owner").await;
    let of_ended = owner.id_of("Ina Gone").await;
    assert_eq!(ended.look("/v1/office/people").await.status, StatusCode::OK);
    assert_eq!(
        owner.ask(Method::DELETE, &format!("/v1/office/people/{of_ended}"), None).await.status,
        StatusCode::NO_CONTENT
    );
    let (office, technician) = (owner.adds("Ines Falk", "office").await, owner.adds("Bodo Rain", "technician").await);
    let phone = many.phone("brazing", "Bench 1").await;
    let revoked = many.phone("brazing", "Bench 2").await;
    let app = many.app("brazing").await;
    revoked.tail().await.unwrap();
    assert!(app.storage.revoke(revoked.id, app.clock.now_ms()).await.unwrap());
    let elsewhere = many.phone("crimping", "Bench 1").await;
    elsewhere.tail().await.unwrap();
    let their_owner = there.comes_in(&first_link("crimping")).await;
    assert_eq!(their_owner.look("/v1/office/people").await.status, StatusCode::OK);
    let their_owner = their_owner.cookie_at(&outside);
    vec![
        comer("nobody", None, "", outside.another()),
        comer("with a token nobody gave", None, "bm90IGEgdG9rZW4", outside.another()),
        comer("a device whose token is over", None, &old.token, outside.another()),
        Comer { revoked: true, ..comer("a device that was taken off", None, &revoked.token, outside.another()) },
        comer("a device of another shop", None, &elsewhere.token, outside.another()),
        comer("a device", Some(Device), &phone.token, outside.another()),
        comer("with a cookie nobody gave", None, "", outside.another().with_cookie("__Host-evenwire-office=bm90IGE")),
        comer("an owner whose session is over", None, "", late),
        comer("an owner who was taken off", None, "", ended),
        comer("the owner of another shop", None, "", their_owner),
        comer("a technician", Some(Technician), "", technician),
        comer("somebody of the office", Some(Office), "", office),
        comer("an owner", Some(Owner), "", owner),
    ]
}

#[tokio::test]
async fn everybody_is_heard_where_they_may_ask_and_sent_away_elsewhere() {
    let many = Many::open(&["brazing", "crimping"]).await;
    let comers = comers(&many).await;
    for (method, path, who) in WAYS {
        for comer in &comers {
            // The cookie alone, as another page would send it.
            let heard = who != Elsewhere && who >= Technician && expected(comer, who).is_none();
            if heard && method != "GET" {
                let forged = Comer { seat: comer.seat.without_token(), token: String::new(), ..*comer };
                assert_eq!(asks(&forged, (method, path)).await, (403, "stale-page".to_owned()), "{path}");
            }
            let (status, code) = asks(comer, (method, path)).await;
            if who == Elsewhere {
                assert_eq!((status, code.as_str()), (404, "not-found"), "{} at {path}", comer.what);
                continue;
            }
            let sent_away = SENT_AWAY.contains(&code.as_str()).then_some((status, code.as_str()));
            assert_eq!(sent_away, expected(comer, who), "{} at {method} {path}: {status} {code}", comer.what);
        }
    }
}
