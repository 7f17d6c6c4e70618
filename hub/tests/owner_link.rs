//! `evenwire-hub owner-link` as a process, beside a hub that runs and without one: the way back of an owner who forgot the
//! password.

mod seat;
mod shop;

use evenwire_hub::storage::{FILE, ServerAddress};
use reqwest::{Method, StatusCode};
use seat::{PASSWORD, Seat, begun, set_up};
use serde_json::{Value, json};
use shop::Shop;
use shop::many::{Many, first_link, host};
use shop::process::start;
use std::path::Path;
use std::process::Command;

const NEW: &str = "brass kettle";

/// What the program says: on standard output when it was done, on standard error when it was not.
fn said((folder, store): (&Path, Option<&ServerAddress>), more: &[&str]) -> Result<String, String> {
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenwire-hub"));
    command.env_remove("EVENWIRE_HUB_STORE").arg("owner-link").arg("--folder").arg(folder).args(more);
    if let Some(store) = store {
        command.arg("--store").arg(&store.0);
    }
    let out = command.output().unwrap();
    let (told, wrong) = (String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap());
    match out.status.code() {
        Some(0) => Ok(told),
        Some(1) if told.is_empty() => Err(wrong),
        other => panic!("{other:?}: {told}{wrong}"),
    }
}

fn at(shop: &Shop, more: &[&str]) -> Result<String, String> {
    said((&shop.hub_folder(), shop.store.as_ref()), more)
}

/// The secret in what was said.
fn token(said: &str) -> String {
    let (_, behind) = said.split_once("/office/#setup=").expect("a link");
    behind.lines().next().unwrap().to_owned()
}

async fn chooses(seat: &Seat, token: &str) -> String {
    let choice = json!({ "token": token, "name": "", "shop": "", "password": NEW });
    let came = seat.another().post("/v1/office/set-up", choice).await;
    if came.status == StatusCode::NO_CONTENT { "in".to_owned() } else { came.code().to_owned() }
}

async fn signs_in(seat: &Seat, password: &str) -> StatusCode {
    let with = json!({ "name": "Toma Quell", "password": password });
    seat.another().post("/v1/office/sign-in", with).await.status
}

#[tokio::test]
async fn an_owner_who_forgot_the_password_comes_back_while_the_hub_runs() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    owner.added(&shop, "Ines Falk", "office").await;
    let first = token(&at(&shop, &[]).unwrap());
    let told = at(&shop, &[" toma  QUELL ", "--address", "192.0.2.10"]).unwrap();
    assert!(told.starts_with("By this link Toma Quell chooses another password. It works once, until 2"), "{told}");
    assert!(told.contains("https://192.0.2.10:7443/office/#setup="), "{told}");
    let link = token(&told);
    assert_eq!(chooses(&owner, &first).await, "link-over", "another one was made since");
    // Whoever made it has not come in: what was holds.
    owner.get("/v1/office/people").await;
    assert_eq!(signs_in(&owner, PASSWORD).await, StatusCode::NO_CONTENT);

    assert_eq!(chooses(&owner, &link).await, "in");
    assert_eq!(owner.look("/v1/office/people").await.code(), "signed-out", "whoever sits there still");
    assert_eq!(signs_in(&owner, PASSWORD).await, StatusCode::UNAUTHORIZED);
    assert_eq!(chooses(&owner, &link).await, "link-over", "once");

    let mut again = owner.another();
    let came = again.post("/v1/office/sign-in", json!({ "name": "Toma Quell", "password": NEW })).await;
    again.sit(came).await;
    let log = again.get("/v1/office/access").await;
    let made: Vec<&Value> =
        log["lines"].as_array().unwrap().iter().filter(|line| line["what"] == "owner-link").collect();
    assert_eq!(made.len(), 2);
    for line in made {
        assert_eq!((&line["name"], &line["about"]), (&json!(""), &json!("Toma Quell")), "nobody can say who it was");
    }
    assert!(!log.to_string().contains(&link) && !log.to_string().contains(NEW), "{log}");

    let late = token(&at(&shop, &[]).unwrap());
    shop.pass(4 * 24 * 60 * shop::MINUTE);
    assert_eq!(chooses(&owner, &late).await, "link-over", "four days are over");
}

#[tokio::test]
async fn it_is_made_without_a_running_hub_as_well_and_found_by_the_next_one() {
    let mut shop = Shop::open().await;
    begun(&shop).await;
    shop.stop().await;
    let link = token(&at(&shop, &[]).unwrap());
    shop.begin_again().await;
    assert_eq!(chooses(&Seat::outside(&shop), &link).await, "in");
}

#[tokio::test]
async fn for_whoever_is_no_owner_none_is_made_and_it_says_who_is() {
    let shop = Shop::open().await;
    let refused = |more: &[&str]| at(&shop, more).unwrap_err();
    assert!(refused(&[]).contains("nobody is an owner yet: the first one comes in by the link that"));
    let owner = begun(&shop).await;
    owner.added(&shop, "Ines Falk", "office").await;
    owner.added(&shop, "Ina Gone", "owner").await;
    assert!(refused(&[]).contains("say whose link it is to be; owners are: Ina Gone, Toma Quell"), "{}", refused(&[]));
    let path = format!("/v1/office/people/{}", owner.id_of("Ina Gone").await);
    assert_eq!(owner.ask(Method::DELETE, &path, None).await.status, StatusCode::NO_CONTENT);
    for none in ["Ines Falk", "Ina Gone", "Toma", ""] {
        let why = format!("no owner who belongs to the office is called {none:?}; owners are: Toma Quell");
        assert!(refused(&[none]).contains(&why), "{}", refused(&[none]));
    }
    let log = owner.get("/v1/office/access").await;
    assert!(!log.to_string().contains("owner-link"), "{log}");
}

#[tokio::test]
async fn where_no_hub_is_none_is_made_and_nothing_else_either() {
    let place = tempfile::tempdir().unwrap();
    let there = |name: &str| place.path().join(name);
    let refused = |name: &str| said((&there(name), None), &[]).unwrap_err();
    let why = refused("nowhere");
    assert!(why.contains("nowhere: it holds no rows of a hub: --folder names a hub's folder"), "{why}");
    assert!(!there("nowhere").exists());
    std::fs::create_dir(there("other")).unwrap();
    let other = rusqlite::Connection::open(there("other").join(FILE)).unwrap();
    other.execute_batch("CREATE TABLE person (name TEXT)").unwrap();
    drop(other);
    let before = std::fs::read(there("other").join(FILE)).unwrap();
    assert!(refused("other").contains("the file is not one of a hub"));
    assert_eq!(std::fs::read(there("other").join(FILE)).unwrap(), before);
}

#[tokio::test]
async fn the_tables_of_an_older_hub_are_left_alone() {
    let place = tempfile::tempdir().unwrap();
    drop(start(place.path(), None));
    let file = place.path().join(FILE);
    let format = || -> i64 {
        rusqlite::Connection::open(&file).unwrap().pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
    };
    let known = format();
    rusqlite::Connection::open(&file).unwrap().pragma_update(None, "user_version", known - 1).unwrap();
    let why = said((place.path(), None), &[]).unwrap_err();
    assert!(why.contains("start the hub with this program once"), "{why}");
    assert_eq!(format(), known - 1);
}

#[tokio::test]
async fn of_many_shops_it_is_the_one_that_is_named() {
    let many = Many::open(&["brazing", "crimping"]).await;
    let nowhere = many.folder.path().join("nowhere");
    let made = |more: &[&str]| said((&nowhere, Some(&many.store)), more);
    assert!(made(&["--shop", "brazing"]).unwrap_err().contains("nobody is an owner yet"));
    let mut owners = Vec::new();
    for shop in ["brazing", "crimping"] {
        let outside = Seat::at(many.client(shop, &host(shop)).await, (&host(shop), many.serving.listens.port()));
        owners.push(outside.comes_in(&first_link(shop)).await);
    }
    let told = made(&["--shop", "brazing"]).unwrap();
    assert!(told.contains("https://brazing.hub.evenwire.internal:7443/office/#setup="), "{told}");
    assert_eq!(chooses(&owners[1], &token(&told)).await, "link-over", "at another shop");
    assert_eq!(chooses(&owners[0], &token(&told)).await, "in");
    owners[1].get("/v1/office/people").await;
    assert_eq!(signs_in(&owners[1], PASSWORD).await, StatusCode::NO_CONTENT);

    assert!(made(&[]).unwrap_err().contains("--shop says which shop; there are: brazing, crimping"));
    assert!(made(&["--shop", "riveting"]).unwrap_err().contains("no shop \"riveting\"; those with names are: brazing"));
    let empty = shop::server::database();
    let why = said((&nowhere, Some(&empty)), &[]).unwrap_err();
    assert!(why.contains("in the database: no hub was begun there"), "{why}");
    assert!(!why.contains("host=") && !nowhere.exists(), "{why}");
    // No table is made or changed: the hub may run, with an older program too.
    let at_the_database = |store: &ServerAddress, sql: &'static str| {
        let store = store.clone();
        let asked = move || shop::server::connect(&store).query_one(sql, &[]).unwrap().get::<_, i64>(0);
        std::thread::spawn(asked).join().unwrap()
    };
    let tables = "SELECT count(*) FROM pg_tables WHERE schemaname = 'evenwire'";
    assert_eq!(at_the_database(&empty, tables), 0);
    let step = at_the_database(&many.store, "UPDATE evenwire.format SET step = step - 1 RETURNING step");
    let why = made(&["--shop", "brazing"]).unwrap_err();
    assert!(why.contains("start the hub with this program once"), "{why}");
    assert_eq!(at_the_database(&many.store, "SELECT step FROM evenwire.format"), step);
    at_the_database(&many.store, "UPDATE evenwire.format SET step = step + 1 RETURNING step");
    let again = set_up(&first_link("brazing"), "Somebody else");
    assert_eq!(owners[0].another().post("/v1/office/set-up", again).await.code(), "link-over");
}
