//! Procedures that are brought onto a device.

use super::bench::{Bench, new_job};
use crate::job::{Command, LogoWish, Refusal};
use crate::procedure::built_in;
use crate::record::Shop;
use crate::work::StepRefusal;

fn coil() -> String {
    built_in()[0].1.to_owned()
}

fn keep(text: &str) -> Command {
    Command::KeepProcedure { text: text.into() }
}

fn begin(id: &str) -> Command {
    Command::BeginProcedure { procedure: id.into(), technician: None, pin: None }
}

#[test]
fn a_procedure_of_the_shop_is_kept_as_a_draft_and_followed_in_the_version_it_was_begun_in() {
    let mut bench = Bench::new();
    let own = coil().replace("id = \"orrin-3-steering-coil\"", "id = \"own-coil\"");
    bench.done(keep(&own));
    let written = bench.entries.len();
    bench.done(keep(&own));
    assert_eq!(bench.entries.len(), written, "the same file again is nothing new");
    let kept = bench.session.library().get("own-coil").expect("kept");
    assert_eq!((kept.approved_by, kept.procedure.head.version), (None, 1));
    bench.done(new_job("4711"));
    bench.done(begin("own-coil"));
    let job = bench.session.job().unwrap().id;
    let newer = own.replace("version = 1", "version = 2").replace("at_least = \"180 s\"", "at_least = \"300 s\"");
    bench.done(keep(&newer));
    assert_eq!(bench.session.library().get("own-coil").unwrap().procedure.head.version, 2);
    bench.done(Command::LeaveJob);
    bench.start_again();
    assert_eq!(bench.session.library().get("own-coil").unwrap().procedure.head.version, 2, "from the ledger alone");
    bench.done(Command::OpenJob { job });
    let work = bench.session.job().unwrap().work.as_ref().expect("its procedure");
    assert_eq!(work.procedure.head.version, 1);
}

#[test]
fn a_change_is_refused_when_its_version_or_its_safety_is_not_kept() {
    let mut bench = Bench::new();
    let longer = coil().replace("at_least = \"180 s\"", "at_least = \"300 s\"");
    assert_eq!(bench.wish(keep(&longer)), Some(Refusal::ProcedureVersion { known: 1 }));
    let shorter = coil().replace("version = 1", "version = 2").replace("at_least = \"180 s\"", "at_least = \"150 s\"");
    let looser = "the wait of step wait is weaker".to_owned();
    assert_eq!(bench.wish(keep(&shorter)), Some(Refusal::ProcedureLooser { looser }));
    let Some(Refusal::ProcedureWrong { mistakes }) =
        bench.wish(keep(&coil().replace("kind = \"wait\"", "kind = \"nap\"")))
    else {
        panic!("a nap is no step")
    };
    let line = coil().lines().position(|line| line == "kind = \"wait\"").unwrap() + 1;
    assert_eq!((mistakes[0].line as usize, mistakes[0].column), (line, 8), "{mistakes:?}");
    assert!(bench.entries.iter().all(|sealed| sealed.entry().kind != "procedure-kept"));
}

#[test]
fn what_was_withdrawn_or_is_not_there_is_not_begun() {
    let mut bench = Bench::new();
    let id = "orrin-3-steering-coil";
    bench.done(new_job("4711"));
    let refused = Some(Refusal::Step { refusal: StepRefusal::NoSuchProcedure });
    assert_eq!(bench.wish(begin("of-nobody")), refused);
    bench.done(Command::WithdrawProcedure { procedure: id.into() });
    assert_eq!(bench.wish(begin(id)), refused);
}

#[test]
fn the_shop_is_told_once_and_known_from_the_ledger_alone() {
    let mut bench = Bench::new();
    let shop = Shop { name: " Lötauge & Sohn".into(), logo: "iVBORw0KGgo=".into(), ..Shop::default() };
    let tell = |shop: &Shop, logo| Command::DescribeShop { shop: shop.clone(), logo };
    bench.done(tell(&shop, LogoWish::Change));
    let written = bench.entries.len();
    let same = Shop { logo: "not looked at".into(), ..shop.clone() };
    bench.done(tell(&same, LogoWish::Keep));
    assert_eq!(bench.entries.len(), written, "nothing changed, nothing is written");
    let long = Shop { name: "x".repeat(81), ..Shop::default() };
    assert_eq!(bench.wish(tell(&long, LogoWish::Keep)), Some(Refusal::TooLong { field: "name".into() }));
    bench.start_again();
    assert_eq!(bench.session.shop(), &shop.tidy(), "from the ledger alone");
    bench.done(tell(&Shop::default(), LogoWish::Change));
    assert_eq!(bench.session.shop(), &Shop::default());
}
