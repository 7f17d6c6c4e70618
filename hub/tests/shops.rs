//! Many shops over one database: what one has is nowhere to be seen from another, and any process answers for all of them.

mod seat;
mod shop;

use evenwire_core::record::{Details, Event, KeptDetails};
use evenwire_core::sync::{Invitation, PairingState, host_of};
use evenwire_hub::serve::examine_shops;
use evenwire_hub::storage::{ServerAddress, Storage, StorageError};
use postgres::{Client, NoTls};
use reqwest::{Method, StatusCode};
use seat::Seat;
use serde_json::json;
use shop::balancer::{balance, restless};
use shop::many::{Many, add, first_link, host};
use shop::process::start;
use shop::server::{self, Keeper};
use shop::{Phone, code};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

/// How long anything here may take.
const DEADLINE: Duration = Duration::from_secs(120);

fn anna() -> Details {
    Details { customer: "Anna Beispiel".to_owned(), ..Details::default() }
}

/// The owner of a shop, who came in by its first link.
async fn owner(many: &Many, shop: &str) -> Seat {
    let client = many.client(shop, &host(shop)).await;
    Seat::at(client, (&host(shop), many.serving.listens.port())).comes_in(&first_link(shop)).await
}

/// Does something at the database itself, as whoever made it.
async fn at_the_database<T: Send + 'static>(
    store: &ServerAddress,
    work: impl FnOnce(&mut Client) -> T + Send + 'static,
) -> T {
    let store = store.clone();
    tokio::task::spawn_blocking(move || work(&mut server::connect(&store))).await.unwrap()
}

/// A phone that belongs to two shops, with the same ledger and the same files in both.
async fn in_both(many: &Many) -> (Phone, KeptDetails) {
    let mut phone = many.phone("brazing", "Bench 1").await;
    let kept = phone.open_job("W-2041", &anna());
    phone.take_photo(kept.job, b"a plate");
    phone.push_from(1).await.unwrap();
    (phone, kept)
}

#[tokio::test]
async fn two_shops_with_the_same_devices_jobs_and_files_know_nothing_of_each_other() {
    let many = Many::open(&["brazing", "crimping"]).await;
    let (phone, kept) = in_both(&many).await;
    let photo = evenwire_core::record::Hash::of(b"a plate");
    phone.put(photo, b"a plate").await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    let hub = phone.hub;
    let number = async |shop: &str, id| many.app(shop).await.storage.device(id).await.unwrap().map(|row| row.number);
    let first = number("brazing", phone.id).await;

    let mut phone = many.led_to("crimping", phone).await;
    assert_eq!(code(phone.try_sign_in().await), "unknown-device");
    assert_eq!(phone.pair_at(&*many.app("crimping").await, true).await, PairingState::Accepted);
    phone.sign_in().await;
    assert_eq!(number("crimping", phone.id).await, first, "each shop numbers its own");
    let (tail, batch) = (phone.tail().await.unwrap(), phone.batch(&phone.ledger));
    assert_eq!((tail.next_sequence, tail.missing), (1, 0));
    assert_eq!(phone.missing(&[photo]).await.unwrap(), [], "no entry here names it");
    assert_eq!(code(phone.put(photo, b"a plate").await), "not-wanted");
    phone.push(&batch).await.unwrap();
    assert_eq!(phone.missing(&[photo, kept.commitment()]).await.unwrap(), [photo, kept.commitment()], "whoever has it");
    let owner = owner(&many, "crimping").await;
    let job = kept.job;
    let path = format!("/v1/jobs/{job}/photos/{photo}");
    assert_eq!(owner.look(&path).await.status, StatusCode::NOT_FOUND, "it was not brought here");
    many.settle().await;
    let list = owner.get("/v1/jobs?search=W-2041").await;
    assert_eq!(list["jobs"][0]["line"]["customer"], "", "its details were not brought here");
    phone.put(photo, b"a plate").await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    many.settle().await;
    assert_eq!(owner.look(&path).await.bytes, b"a plate");

    // What one shop erases the other keeps.
    assert!(many.app("brazing").await.storage.erase_job(job, 0).await.unwrap());
    many.settle().await;
    let seen = many.app("brazing").await.blobs.get(photo).await.unwrap();
    assert_eq!(seen, None);
    assert_eq!(owner.look(&path).await.bytes, b"a plate");
    let names = |rows: Vec<evenwire_hub::storage::LineRow>| -> Vec<String> {
        rows.into_iter().map(|row| row.line.customer).collect()
    };
    assert_eq!(names(many.app("brazing").await.storage.lines_of(job).await.unwrap()), [""]);
    assert_eq!(names(many.app("crimping").await.storage.lines_of(job).await.unwrap()), ["Anna Beispiel"]);
    assert_ne!(many.app("crimping").await.hub, hub);
    assert_ne!(
        many.app("crimping").await.certificates.authority(),
        many.app("brazing").await.certificates.authority(),
        "whoever has the key of one shop's authority is believed by no device of another"
    );
    let found = examine_after(many).await;
    assert_eq!(found, ["brazing: 1 ledgers, 2 entries, 0 files", "crimping: 1 ledgers, 2 entries, 2 files"]);
}

/// What the doctor says of each shop once nobody serves them.
async fn examine_after(many: Many) -> Vec<String> {
    let (folder, store) = (many.folder, many.store.clone());
    many.serving.stop().await;
    let all = examine_shops(&folder.path().join("hub"), (&store, None), None).await.unwrap();
    let one = examine_shops(&folder.path().join("hub"), (&store, None), Some("brazing")).await.unwrap();
    assert_eq!(one, all[..1]);
    assert!(examine_shops(&folder.path().join("hub"), (&store, None), Some("nobody")).await.is_err());
    let told = all.into_iter().map(|(shop, found)| {
        assert_eq!((found.wrong, found.lost), (vec![], vec![]), "{shop}");
        format!("{shop}: {} ledgers, {} entries, {} files", found.ledgers, found.entries, found.blobs)
    });
    told.collect()
}

#[tokio::test]
async fn a_name_that_is_no_shops_is_let_in_nowhere_and_a_shop_added_while_it_runs_is_served() {
    let many = Many::open(&["brazing"]).await;
    assert!(many.serving.house.only().is_none(), "nobody began a shop without a name");
    let authority = many.app("brazing").await.certificates.authority().to_vec();
    for nobody in ["crimping.hub.evenwire.internal", "hub.evenwire.internal", &host_of(evenwire_hub::app::random_id())]
    {
        let client = restless(&authority, (nobody, many.serving.listens));
        let asked = client.get(format!("https://{nobody}:{}/healthz", many.serving.listens.port())).send().await;
        assert!(asked.is_err_and(|error| error.is_connect()), "{nobody}");
    }
    add(&many.store, "crimping").await;
    let phone = many.phone("crimping", "Bench 1").await;
    assert_eq!(phone.tail().await.unwrap().next_sequence, 1);
    let store = many.store.clone();
    let again =
        at_the_database(&store, |client| client.batch_execute("INSERT INTO evenwire.shop (name) VALUES ('brazing')"));
    assert!(again.await.is_err());
}

/// Everything that shops have rows in, and where those rows are.
fn tables(client: &mut Client) -> Vec<(String, String)> {
    let sql = "SELECT relname::text FROM pg_class WHERE relnamespace = 'evenwire'::regnamespace
               AND relkind IN ('r', 'p', 'v') AND relname NOT IN ('format', 'shop', 'line_of_shops') ORDER BY 1";
    let names = client.query(sql, &[]).unwrap().into_iter().map(|row| row.get::<_, String>(0));
    names.map(|name| (name.clone(), if name == "line" { "line_of_shops".to_owned() } else { name })).collect()
}

fn number(client: &mut Client, sql: &str) -> i64 {
    client.query_one(sql, &[]).unwrap().get(0)
}

fn count(client: &mut Client, table: &str, of: &str) -> i64 {
    number(client, &format!("SELECT count(*) FROM evenwire.{table} {of}"))
}

fn refused(done: Result<(), postgres::Error>) -> String {
    let error = done.expect_err("this should have been refused");
    error.as_db_error().map(|said| said.message().to_owned()).unwrap_or_default()
}

/// Two shops with rows of every sort a day brings, and the number of the second.
async fn filled() -> (Many, i64) {
    let many = Many::open(&["brazing", "crimping"]).await;
    let (phone, kept) = in_both(&many).await;
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    let mut phone = many.led_to("crimping", phone).await;
    phone.pair_at(&*many.app("crimping").await, true).await;
    phone.sign_in().await;
    phone.push_from(1).await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    for shop in ["brazing", "crimping"] {
        owner(&many, shop).await;
    }
    many.settle().await;
    let named = "SELECT number FROM evenwire.shop WHERE name = 'crimping'";
    let crimping = at_the_database(&many.store, |client| number(client, named)).await;
    (many, crimping)
}

#[tokio::test]
async fn the_role_that_serves_sees_the_rows_of_the_shop_that_was_told_and_none_where_none_was() {
    let (many, crimping) = filled().await;
    let both = at_the_database(&many.store, move |client| {
        let of = "relnamespace = 'evenwire'::regnamespace AND relname NOT IN ('format', 'shop')";
        let open = format!(
            "SELECT count(*) FROM pg_class WHERE {of} AND relkind IN ('r', 'p') AND NOT (relrowsecurity AND relforcerowsecurity)"
        );
        assert_eq!(number(client, &open), 0, "a table without policies");
        let keys = "pg_index JOIN pg_class ON pg_class.oid = indrelid JOIN pg_attribute ON attrelid = indrelid AND attnum = indkey[0]";
        let wrong = format!("SELECT count(*) FROM {keys} WHERE {of} AND indisunique AND attname <> 'shop'");
        assert_eq!(number(client, &wrong), 0, "a key that two shops share");
        let own = format!("WHERE shop = {crimping}");
        let there: Vec<(String, i64, i64)> = tables(client)
            .into_iter()
            .map(|(name, rows)| (name, count(client, &rows, ""), count(client, &rows, &own)))
            .collect();
        client.batch_execute("SET ROLE evenwire_hub").unwrap();
        let mut both = 0;
        for (table, everything, own) in &there {
            assert_eq!(count(client, table, ""), 0, "{table}: no shop was told");
            client.batch_execute(&format!("BEGIN; SET LOCAL evenwire.shop = {crimping}")).unwrap();
            assert_eq!(count(client, table, ""), *own, "{table}");
            assert_eq!(count(client, table, &format!("WHERE shop <> {crimping}")), 0, "{table}");
            client.batch_execute("ROLLBACK").unwrap();
            // Now the setting is there and says nothing.
            assert_eq!(count(client, table, ""), 0, "{table}: no shop is told any more");
            both += usize::from(everything > own && *own > 0);
        }
        both
    });
    assert!(both.await >= 13, "most tables have rows of both");
}

#[tokio::test]
async fn the_role_that_serves_cannot_write_into_another_shop_or_change_what_divides_them() {
    let (many, crimping) = filled().await;
    let tries = move |client: &mut Client| {
        client.batch_execute("SET ROLE evenwire_hub").unwrap();
        for (done, told) in [
            ("INSERT INTO evenwire.erased (job, at_ms) VALUES (decode(repeat('07', 16), 'hex'), 0)", ""),
            ("INSERT INTO evenwire.erased VALUES (1, decode(repeat('07', 16), 'hex'), 0)", "row-level security"),
            ("UPDATE evenwire.device SET shop = 1", "row-level security"),
            ("UPDATE evenwire.line SET shop = 1", "check option"),
        ] {
            let came = client.batch_execute(&format!("BEGIN; SET LOCAL evenwire.shop = {crimping}; {done}"));
            client.batch_execute("ROLLBACK").unwrap();
            let said = if came.is_ok() { String::new() } else { refused(came) };
            assert!(said.is_empty() == told.is_empty() && said.contains(told), "{done}: {said}");
        }
        for harm in [
            "ALTER TABLE evenwire.batch DISABLE ROW LEVEL SECURITY",
            "DROP POLICY its_own_shop ON evenwire.batch",
            "TRUNCATE evenwire.token",
            "SELECT count(*) FROM evenwire.line_of_shops",
            "DELETE FROM evenwire.batch",
            "INSERT INTO evenwire.shop (name) VALUES ('another')",
            "UPDATE evenwire.shop SET name = 'another'",
            "ALTER ROLE evenwire_hub BYPASSRLS",
        ] {
            let told = refused(client.batch_execute(harm));
            let by_right = ["must be owner", "permission denied", "must be superuser"];
            assert!(by_right.iter().any(|right| told.contains(right)), "{harm}: {told}");
        }
    };
    at_the_database(&many.store, tries).await;
}

#[tokio::test]
async fn a_process_signs_in_as_somebody_who_may_nothing_else() {
    let place = tempfile::tempdir().unwrap();
    std::fs::set_permissions(place.path(), std::os::unix::fs::PermissionsExt::from_mode(0o755)).unwrap();
    let rows = place.path().join("server");
    std::fs::create_dir(&rows).unwrap();
    // Roles are a server's, not a database's: this test has one of its own.
    let _keeper = Keeper::start(&rows, ["off", "stays"]);
    let at = rows.clone();
    let store = tokio::task::spawn_blocking(move || server::fresh_database(&at)).await.unwrap();
    let alone = "CREATE ROLE waiter LOGIN";
    at_the_database(&store, move |client| client.batch_execute(alone)).await.unwrap();
    let as_waiter = ServerAddress(store.0.replace("user=evenwire", "user=waiter"));
    let open = |store: &ServerAddress| Storage::open_at(Path::new(""), Some(store));
    assert!(matches!(open(&as_waiter), Err(StorageError::Failed { .. })), "it may make no tables");
    add(&store, "brazing").await;
    assert!(matches!(open(&as_waiter), Err(StorageError::Failed { .. })), "it may not even look");
    at_the_database(&store, |client| client.batch_execute("GRANT evenwire_hub TO waiter")).await.unwrap();
    let storage = open(&as_waiter).unwrap();
    let shops = storage.shops().await.unwrap();
    let brazing = storage.of(&shops[1]);
    assert_eq!((shops[1].name.as_str(), brazing.is_begun().await), ("brazing", Ok(true)));
    assert!(brazing.invite(evenwire_core::record::Hash::ZERO, None, 0).await.is_ok(), "it serves");
    let mut client = tokio::task::spawn_blocking(move || Client::connect(&as_waiter.0, NoTls).unwrap()).await.unwrap();
    let past = tokio::task::spawn_blocking(move || {
        client.batch_execute("ALTER TABLE evenwire.hub NO FORCE ROW LEVEL SECURITY")
    });
    assert!(refused(past.await.unwrap()).contains("must be owner"));
    drop(storage);
    at_the_database(&store, |client| client.batch_execute("ALTER ROLE evenwire_hub BYPASSRLS")).await.unwrap();
    let told = open(&store).unwrap().shops().await.unwrap_err();
    assert!(told.to_string().contains("the role evenwire_hub could see every shop"), "{told}");
}

/// Adds a shop as an administrator does; the secret of its first link.
fn added(store: &ServerAddress, name: &str) -> String {
    let program = env!("CARGO_BIN_EXE_evenwire-hub");
    let ran = Command::new(program).args(["shop", "add", name]).env("EVENWIRE_HUB_STORE", &store.0).output().unwrap();
    let said = String::from_utf8(ran.stdout).unwrap();
    assert!(ran.status.success(), "{said}{}", String::from_utf8_lossy(&ran.stderr));
    let (_, token) = said.trim().rsplit_once(&format!("https://{name}.hub.evenwire.internal/office/#setup=")).unwrap();
    token.to_owned()
}

/// The authority of a shop, as soon as a process made it.
fn authority(folder: &Path, shop: &str) -> Vec<u8> {
    let file: PathBuf = folder.join("shops").join(shop).join("tls/authority.crt");
    let begun = Instant::now();
    loop {
        match std::fs::read(&file) {
            Ok(authority) => return authority,
            Err(error) => assert!(begun.elapsed() < DEADLINE, "{error}"),
        }
        std::thread::yield_now();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn two_processes_behind_a_balancer_are_one_hub_for_every_shop_and_one_may_die() {
    let _ = rustls::crypto::ring::default_provider().install_default();
    let place = tempfile::tempdir().unwrap();
    let (folder, store) = (place.path().join("hub"), server::database());
    let links = ["brazing", "crimping"].map(|shop| (shop, added(&store, shop)));
    let (first, second) = (start(&folder, Some(&store)), start(&folder, Some(&store)));
    let at = balance(vec![first.listens, second.listens]).await;
    let mut busy = Vec::new();
    for (shop, link) in links {
        let authority = authority(&folder, shop);
        // Each request comes to the other process than the one before.
        let owner = Seat::at(restless(&authority, (&host(shop), at)), (&host(shop), at.port())).comes_in(&link).await;
        let invitation = owner.post("/v1/office/invitations", json!({})).await;
        let invitation = Invitation::read(invitation.body["text"].as_str().unwrap()).unwrap();
        assert_eq!(invitation.authority().unwrap(), authority);
        let name = host_of(invitation.hub);
        let phone = Phone::of(invitation.hub, restless(&authority, (&name, at)), "Bench 1");
        let mut phone = Phone { host: name, port: at.port(), ..phone };
        let asked = phone.ask_pairing(&phone.pairing_ask(&invitation)).await.unwrap();
        assert_eq!(phone.look(asked.pairing).await.unwrap().state, PairingState::Waiting);
        owner.done(&format!("/v1/office/pairings/{}", asked.pairing), json!({ "same": true })).await;
        assert_eq!(phone.look(asked.pairing).await.unwrap().state, PairingState::Accepted);
        phone.sign_in().await;
        let kept = phone.open_job("W-1", &anna());
        phone.push_from(1).await.unwrap();
        phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
        for _ in 0..2 {
            assert_eq!(phone.tail().await.unwrap().missing, 0, "what one was brought the other has");
            assert_eq!(owner.get("/v1/office/devices").await["devices"].as_array().unwrap().len(), 1);
        }
        busy.push((shop, phone, owner, kept.job));
    }
    drop(second);
    for (shop, phone, owner, job) in &mut busy {
        for _ in 0..4 {
            phone.write(Some(*job), &Event::ConductorChosen { conductor: 1 });
            phone.push_from(phone.ledger.len()).await.unwrap();
            assert_eq!(owner.look("/v1/office/today").await.status, StatusCode::OK, "{shop}");
        }
    }
    drop(first);
    let found = examine_shops(&folder, (&store, None), None).await.unwrap();
    for (shop, found) in &found {
        assert_eq!((found.ledgers, found.entries, found.blobs), (1, 5, 1), "{shop}");
        assert_eq!((&found.wrong, &found.lost), (&vec![], &vec![]), "{shop}");
    }
    assert_eq!(found.len(), 2);
    let program = env!("CARGO_BIN_EXE_evenwire-hub");
    let hub = |arguments: &[&str]| {
        let ran = Command::new(program).args(arguments).env("EVENWIRE_HUB_STORE", &store.0).output().unwrap();
        (ran.status.success(), String::from_utf8_lossy(&ran.stdout).into_owned())
    };
    let (_, listed) = hub(&["shop", "list"]);
    let names: Vec<&str> = listed.lines().filter_map(|line| line.split(' ').next()).collect();
    assert_eq!(names, ["brazing", "crimping"]);
    for (arguments, good) in [
        (&["shop", "add", "brazing"][..], false),
        (&["shop", "add", "Not a name"], false),
        (&["shop", "link", "brazing"], false),
        (&["shop", "link", "nobody"], false),
        (&["shop", "add", "soldering"], true),
        (&["shop", "link", "soldering"], true),
    ] {
        assert_eq!(hub(arguments).0, good, "{arguments:?}");
    }
    let folder = folder.to_str().unwrap().to_owned();
    let (good, told) = hub(&["doctor", "--folder", &folder, "--shop", "crimping"]);
    assert!(good && told.contains("crimping:\n1 ledgers with 5 entries"), "{told}");
}

#[tokio::test]
async fn the_shop_is_the_connections_whatever_a_request_says() {
    let many = Many::open(&["brazing", "crimping"]).await;
    let phone = many.phone("brazing", "Bench 1").await;
    let claims = phone.request(Method::GET, "/v1/hub").header("host", host("crimping"));
    let card: serde_json::Value = claims.send().await.unwrap().json().await.unwrap();
    assert_eq!(card["hub"].as_str().unwrap(), phone.hub.to_string());
    // An assertion for one hub is none for the other, also where both know the device.
    let assertion = phone.assertion(many.app("brazing").await.clock.now_ms()).sign(&phone.key);
    let there = many.led_to("crimping", phone).await;
    there.pair_at(&*many.app("crimping").await, true).await;
    assert_eq!(code(there.ask_token(assertion).await), "signature");
}
