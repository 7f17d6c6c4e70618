//! A second signature that is given at the office: who may, what goes to the device, and what is told until it answers.

mod seat;
mod shop;

use evenwire_core::claim::verify;
use evenwire_core::job::Job;
use evenwire_core::procedure::built_in;
use evenwire_core::record::{
    Done, Event, Hash, KeptPerson, NotSigned, PersonDetails, PhotoFact, PinHash, ProcedureFact, Release, Sealed,
    SignedHead, SignedJob, StepDone, StepFact, told_of,
};
use evenwire_core::sync::{Change, Countersigned};
use evenwire_core::unit::BootId;
use evenwire_hub::app::Rates;
use seat::{PASSWORD, Seat, begun};
use serde_json::{Value, json};
use shop::{Phone, Shop};
use uuid::Uuid;

const JAKOB: Uuid = Uuid::from_u128(31);

fn step<T>(said: T) -> StepFact<T> {
    StepFact { step: "identify".to_owned(), boot: BootId("one".to_owned()), said }
}

/// The step is done once more, or for the first time, with a photo.
fn does(phone: &mut Phone, job: Uuid, photo: &[u8]) -> Hash {
    phone.write(Some(job), &Event::StepBegun(step(())));
    let hash = Hash::of(photo);
    let fact = PhotoFact { photo: hash, step: Some("identify".into()), width: 4, height: 3, bytes: 9 };
    phone.write(Some(job), &Event::PhotoTaken(fact));
    let done = StepDone { words: "plate compared".to_owned(), done: Done::Ticked };
    phone.write(Some(job), &Event::StepDone(step(done)));
    hash
}

/// All that is written is brought, from what is there on.
async fn brings(phone: &Phone) {
    let sent = phone.tail().await.unwrap().next_sequence as usize;
    phone.push_from(sent).await.unwrap();
}

/// A device with a job whose first step waits for a second person; done by somebody of that name.
async fn waits(shop: &Shop, (bench, technician): (&str, &str)) -> (Phone, Uuid) {
    let mut phone = shop.phone(bench).await;
    let details = PersonDetails { name: technician.to_owned(), role: String::new() };
    let jakob = KeptPerson::new(JAKOB, [3; 32], &details, PinHash::default());
    phone.write(None, &Event::DeviceKeyed { key: phone.key.public() });
    phone.write(None, &Event::PersonAdded { person: JAKOB, personal: jakob.commitment() });
    let kept = phone.open_job("W-2041", &Default::default());
    let text = built_in()[0].1.replace("id = \"identify\"\n", "id = \"identify\"\nsign_off = \"second\"\n");
    let begun = ProcedureFact { text, technician: Some(JAKOB), approved_by: None };
    phone.write(Some(kept.job), &Event::ProcedureBegun(begun));
    let photo = does(&mut phone, kept.job, b"a picture");
    brings(&phone).await;
    phone.put(photo, b"a picture").await.unwrap();
    phone.put(kept.commitment(), &kept.to_bytes()).await.unwrap();
    if !technician.is_empty() {
        phone.put(jakob.commitment(), &jakob.to_bytes()).await.unwrap();
    }
    shop.settle().await;
    (phone, kept.job)
}

/// Of all that the phone has written.
fn ask(phone: &Phone, doing: u32) -> Value {
    let entries = phone.ledger.len();
    json!({ "device": phone.id, "step": "identify", "doing": doing, "entries": entries, "password": PASSWORD })
}

async fn signs(seat: &Seat, job: Uuid, ask: Value) -> String {
    let came = seat.post(&format!("/v1/jobs/{job}/signatures"), ask).await;
    if came.status.is_success() { "signed".to_owned() } else { came.code().to_owned() }
}

/// What waits in the first version of the job.
async fn seconds(seat: &Seat, job: Uuid) -> Value {
    seat.get(&format!("/v1/jobs/{job}")).await["versions"][0]["seconds"].clone()
}

/// The signatures that are on their way to a device.
async fn sent(phone: &Phone) -> Vec<Countersigned> {
    let changes = phone.changes(0).await.unwrap().changes.into_iter();
    let signed = |change| if let Change::StepSigned(given) = change { Some(*given) } else { None };
    changes.filter_map(|numbered| signed(numbered.change)).collect()
}

fn of_job(phone: &Phone, job: Uuid) -> Vec<Sealed> {
    phone.ledger.iter().filter(|sealed| sealed.entry().job == Some(job)).cloned().collect()
}

/// The device takes it by the rule both hold to, and brings what it wrote.
async fn takes(phone: &mut Phone, job: Uuid, given: &Countersigned) {
    let there = Job::from_entries(&of_job(phone, job)).unwrap();
    let name = given.signer().opened(given.signed.personal).expect("the name that was committed to").name;
    let events = there.sign_at_office(&given.signed, &name, |_| Some("Jakob Specht")).unwrap();
    for event in &events {
        phone.write(Some(job), event);
    }
    brings(phone).await;
    let signer = given.signer();
    if !phone.missing(&[signer.commitment()]).await.unwrap().is_empty() {
        phone.put(signer.commitment(), &signer.to_bytes()).await.unwrap();
    }
}

#[tokio::test]
async fn what_came_after_the_page_was_read_was_not_seen_by_whoever_signs() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    let shown = owner.get(&format!("/v1/jobs/{job}")).await["versions"][0]["entries"].clone();
    let before = of_job(&phone, job);
    assert_eq!(shown, json!(before.len()));
    phone.take_photo(job, b"another picture");
    brings(&phone).await;
    let mut ask = ask(&phone, 1);
    ask["entries"] = shown;
    assert_eq!(signs(&owner, job, ask).await, "signed");
    let given = sent(&phone).await.remove(0);
    assert_eq!(given.signed.seen, SignedJob::of(job, before.iter().map(Sealed::hash)));
    takes(&mut phone, job, &given).await;
}

#[tokio::test]
async fn somebody_of_the_office_sees_what_was_done_and_signs_and_it_counts_when_the_device_has_it() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    let waiting = seconds(&owner, job).await;
    let one = &waiting[0];
    assert_eq!(
        (&one["waits"]["step"], &one["waits"]["doing"], &one["waits"]["by"]),
        (&json!("identify"), &json!(1), &json!("Jakob Specht"))
    );
    assert_eq!((&one["given"], &one["refused"]), (&Value::Null, &Value::Null));
    assert!(one["waits"]["done"].as_str().unwrap().contains("plate compared"), "{one}");
    assert_eq!(one["waits"]["photos"][0]["photo"], json!(Hash::of(b"a picture").to_string()));

    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "signed");
    let given = sent(&phone).await.remove(0);
    let name = given.signer().opened(given.signed.personal).unwrap().name;
    assert_eq!((name.as_str(), given.signed.step.as_str(), given.signed.doing), ("Toma Quell", "identify", 1));
    let all = of_job(&phone, job).iter().map(Sealed::hash).collect::<Vec<_>>();
    assert_eq!(given.signed.seen, SignedJob::of(job, all));
    let under_way = seconds(&owner, job).await[0].clone();
    assert_eq!((&under_way["given"]["name"], &under_way["given"]["refused"]), (&json!("Toma Quell"), &Value::Null));
    assert_eq!(under_way["refused"], json!("signed-already"), "it still waits, and nobody signs it twice");
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "signed-already");
    shop.settle().await;
    let open = owner.get("/v1/office/today").await["open"].clone();
    assert!(open[0]["open"].as_array().unwrap().contains(&json!("signature")), "{open}");

    takes(&mut phone, job, &given).await;
    shop.settle().await;
    assert_eq!(seconds(&owner, job).await, json!([]));
    let open = owner.get("/v1/office/today").await["open"].clone();
    assert!(!open[0]["open"].as_array().unwrap().contains(&json!("signature")), "{open}");
    let told = owner.get(&format!("/v1/jobs/{job}?language=en")).await.to_string();
    assert!(told.contains("Signed second by Toma Quell at the office."), "{told}");
    let told = owner.get(&format!("/v1/jobs/{job}?language=de")).await.to_string();
    assert!(told.contains("Im Büro gegengezeichnet: Toma Quell."), "{told}");
    let claim = owner.look(&format!("/v1/jobs/{job}/claim.zip")).await.bytes;
    verify(&claim).expect("it proves itself, name and all");
    let log = owner.get("/v1/office/access").await["lines"].clone();
    let signed: Vec<&Value> = log.as_array().unwrap().iter().filter(|line| line["what"] == "signed").collect();
    assert_eq!((signed.len(), &signed[0]["name"], &signed[0]["about"]), (1, &json!("Toma Quell"), &json!("W-2041")));
}

#[tokio::test]
async fn a_signature_takes_the_own_password_and_tries_are_counted() {
    let shop = Shop::open_with(Rates::a_minute(100, 100, 4)).await;
    let owner = begun(&shop).await;
    let (phone, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    let with = |password: &str| {
        let mut ask = ask(&phone, 1);
        ask["password"] = json!(password);
        ask
    };
    for wrong in ["copper kettl", ""] {
        assert_eq!(signs(&owner, job, with(wrong)).await, "wrong-password");
    }
    // What is refused whatever the password costs no try.
    for _ in 0..5 {
        assert_eq!(signs(&owner, job, ask(&phone, 2)).await, "sign-done-again");
    }
    assert_eq!(signs(&owner, job, with("brass kettle")).await, "wrong-password");
    assert_eq!(signs(&owner, job, with(PASSWORD)).await, "too-often");
    assert_eq!(sent(&phone).await, []);
    let log = owner.get("/v1/office/access").await.to_string();
    assert_eq!((log.matches("\"refused\"").count(), log.matches("\"signed\"").count()), (3, 0), "{log}");
}

#[tokio::test]
async fn nobody_is_their_own_second_by_whatever_account() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (phone, job) = waits(&shop, ("Bench 1", " toma QUELL ")).await;
    assert_eq!(seconds(&owner, job).await[0]["refused"], json!("sign-own-second"));
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "sign-own-second");
    let (nameless, other) = waits(&shop, ("Bench 2", "")).await;
    assert_eq!(seconds(&owner, other).await[0]["refused"], json!("sign-doer-unknown"), "whose name is not here");
    assert_eq!(signs(&owner, other, ask(&nameless, 1)).await, "sign-doer-unknown");
    assert_eq!((sent(&phone).await, sent(&nameless).await), (vec![], vec![]));
    let ines = owner.adds("Ines Falk", "office").await;
    assert_eq!(signs(&ines, job, ask(&phone, 1)).await, "signed");
}

#[tokio::test]
async fn what_a_device_does_not_take_is_told_and_may_be_signed_again() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "signed");
    let early = sent(&phone).await.remove(0);
    let photo = does(&mut phone, job, b"another one");
    brings(&phone).await;
    phone.put(photo, b"another one").await.unwrap();
    // Not even the device's answer is needed to know that.
    let again = seconds(&owner, job).await[0].clone();
    assert_eq!((&again["waits"]["doing"], &again["given"]["refused"]), (&json!(2), &json!("sign-done-again")));
    assert_eq!(again["waits"]["photos"].as_array().unwrap().len(), 1);
    let signature = early.signed.signature;
    phone.write(None, &Event::SignatureNotTaken { signature, of_job: job, why: NotSigned::CompareFirst });
    brings(&phone).await;
    let told = seconds(&owner, job).await[0].clone();
    assert_eq!((&told["given"]["refused"], &told["refused"]), (&json!("sign-compare-first"), &Value::Null));
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "sign-done-again");
    assert_eq!(signs(&owner, job, ask(&phone, 2)).await, "signed");
    let late = sent(&phone).await.remove(1);
    assert_eq!((early.salt, early.text.as_str()), (late.salt, late.text.as_str()), "one name has one commitment");
    takes(&mut phone, job, &late).await;
    assert_eq!(seconds(&owner, job).await, json!([]));
    assert_eq!(signs(&owner, job, ask(&phone, 2)).await, "sign-nothing");
}

#[tokio::test]
async fn what_nobody_would_write_down_is_not_signed() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut phone, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    assert_eq!(signs(&owner, Uuid::from_u128(9), ask(&phone, 1)).await, "not-here");
    let mut elsewhere = ask(&phone, 1);
    elsewhere["device"] = json!(Uuid::from_u128(9));
    assert_eq!(signs(&owner, job, elsewhere).await, "not-here");
    let mut other = ask(&phone, 1);
    other["step"] = json!("wheel-off");
    assert_eq!(signs(&owner, job, other).await, "sign-nothing");

    let key = phone.key.public();
    let released = Release { to: "late shift".to_owned(), key, people: Default::default() };
    phone.write(Some(job), &Event::JobReleased(released));
    brings(&phone).await;
    assert_eq!(seconds(&owner, job).await[0]["refused"], json!("sign-handed-over"));
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "sign-handed-over");
    phone.write(Some(job), &Event::JobTakenBack { boot: BootId("one".to_owned()) });
    brings(&phone).await;
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "signed");

    owner.done(&format!("/v1/office/devices/{}/revoke", phone.id), json!({})).await;
    let told = seconds(&owner, job).await[0].clone();
    assert_eq!((&told["given"]["refused"], &told["refused"]), (&json!("device-out"), &json!("device-out")));
    assert_eq!(signs(&owner, job, ask(&phone, 1)).await, "device-out");
}

/// A job that was signed on its way from one device to the other.
#[tokio::test]
async fn a_signature_for_a_job_that_went_on_elsewhere_is_told_and_given_anew() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut early, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    assert_eq!(signs(&owner, job, ask(&early, 1)).await, "signed");
    let people = [(JAKOB, early_name(&early))].into();
    let key = early.key.public();
    early.write(Some(job), &Event::JobReleased(Release { to: String::new(), key, people }));
    brings(&early).await;
    let mut late = shop.phone("Bench 2").await;
    let told: Vec<Sealed> = told_of(&of_job(&early, job)).into_iter().cloned().collect();
    for sealed in &told {
        let entry = String::from_utf8(sealed.bytes().to_vec()).unwrap();
        late.write(Some(job), &Event::Carried { entry });
    }
    let signed = SignedJob::of(job, told.iter().map(Sealed::hash));
    let (device, sequence, hash) = (early.id, early.head.sequence, early.head.hash);
    let head = SignedHead { device, sequence, hash, job: Some(signed) };
    let claimed = evenwire_core::record::Claimed {
        boot: BootId("two".to_owned()),
        from_device: device,
        from_sequence: sequence,
        from_hash: hash,
        signed: head.sign(&early.key),
    };
    late.write(Some(job), &Event::JobClaimed(claimed));
    brings(&late).await;
    shop.settle().await;
    let waiting = seconds(&owner, job).await[0].clone();
    assert_eq!(waiting["given"]["refused"], json!("sign-handed-over"));
    assert_eq!(waiting["refused"], json!("sign-doer-unknown"), "nobody said yet who does it there");
    late.write(Some(job), &Event::TechnicianNamed { person: JAKOB });
    brings(&late).await;
    assert_eq!(signs(&owner, job, ask(&early, 1)).await, "not-here", "that version does not go on");
    assert_eq!(signs(&owner, job, ask(&late, 1)).await, "signed");
    assert_eq!((sent(&early).await.len(), sent(&late).await.len()), (1, 1));
}

fn early_name(phone: &Phone) -> Hash {
    let of = |sealed: &Sealed| match sealed.entry().event()? {
        Event::PersonAdded { personal, .. } => Some(personal),
        _ => None,
    };
    phone.ledger.iter().find_map(of).unwrap()
}

/// Of versions that part each is signed by itself.
#[tokio::test]
async fn of_two_versions_the_one_that_was_seen_is_signed() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let (mut one, job) = waits(&shop, ("Bench 1", "Jakob Specht")).await;
    let mut other = shop.phone("Bench 2").await;
    // The same ledger, put back on another machine, and both went on.
    for sealed in one.ledger.clone() {
        let entry = sealed.entry();
        other.write_kind(entry.job, &entry.kind, entry.body.clone());
    }
    does(&mut other, job, b"a picture");
    brings(&other).await;
    does(&mut one, job, b"a picture");
    does(&mut one, job, b"a picture");
    brings(&one).await;
    shop.settle().await;
    let versions = owner.get(&format!("/v1/jobs/{job}")).await["versions"].clone();
    let doing: Vec<&Value> =
        versions.as_array().unwrap().iter().map(|it| &it["seconds"][0]["waits"]["doing"]).collect();
    assert_eq!(doing, [&json!(3), &json!(2)]);
    assert_eq!(signs(&owner, job, ask(&other, 3)).await, "sign-done-again");
    assert_eq!(signs(&owner, job, ask(&other, 2)).await, "signed");
    assert_eq!((sent(&one).await.len(), sent(&other).await.len()), (0, 1));
    let versions = owner.get(&format!("/v1/jobs/{job}")).await["versions"].clone();
    let given: Vec<bool> =
        versions.as_array().unwrap().iter().map(|it| it["seconds"][0]["given"].is_object()).collect();
    assert_eq!(given, [false, true]);
}
