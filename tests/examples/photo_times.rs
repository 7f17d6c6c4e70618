//! Forty photos of twelve megapixels in one job: what each takes, beside bare work on the same pixels in the same run;
//! how long the bench lets another ask wait meanwhile; and what the report of such a job takes.

use anyhow::{Context, Result, bail};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::Command;
use evenwire_core::record::Details;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Ask, Reply};
use evenwire_engine::bench::{Bench, BenchOptions};
use evenwire_engine::report::{self, Form};
use evenwire_paper::PageSize;
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use std::hint::black_box;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use uuid::Uuid;

const PHOTOS: u32 = 40;
/// What a phone takes: 12 megapixels.
const SIZE: (u32, u32) = (4_000, 3_000);
/// As the program keeps them.
const KEPT: u32 = 1_600;
const QUALITY: u8 = 82;
/// Asks between two photos, so that the bench is asked all the time.
const EVERY: Duration = Duration::from_millis(5);

fn main() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let database = folder.path().join("photos.db");
    println!("drawing {PHOTOS} pictures of {} × {} …", SIZE.0, SIZE.1);
    let pictures: Vec<Vec<u8>> = (0..PHOTOS).map(drawn).collect::<Result<_>>()?;
    println!("{} kB as sent", pictures[0].len() / 1_000);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    let mut options = BenchOptions::on(database.clone());
    options.radio = false;
    let bench = Bench::start(options)?;
    let job = runtime.block_on(begun(&bench))?;
    let calm = async { tokio::time::sleep(Duration::from_secs(3)).await };
    let calm = runtime.block_on(asked_while(&bench, calm))?;
    let mut kept = Vec::new();
    let busy = runtime.block_on(asked_while(&bench, async {
        for picture in &pictures {
            kept.push(keep(&bench, job, picture).await);
        }
    }))?;
    let kept: Vec<Duration> = kept.into_iter().collect::<Result<_>>()?;
    let bare: Vec<Duration> = pictures.iter().step_by(4).map(|picture| bare(picture)).collect::<Result<_>>()?;
    tell("a photo, ms", &kept);
    tell("bare, ms", &bare);
    println!("{:<28}{:>9.2}", "ratio of the middle ones", middle(&kept) / middle(&bare));
    tell("another ask, calm, ms", &calm);
    tell("another ask, meanwhile, ms", &busy);
    runtime.block_on(bench.close());
    let form = Form { language: Language::En, size: PageSize::A4, shop: None, zone: None };
    let begun = Instant::now();
    let pdf = report::pdf(&database, job, &form)?;
    println!("{:<28}{:>9.1}   {} kB", "report, ms", milliseconds(begun.elapsed()), pdf.len() / 1_000);
    println!(
        "{:<28}{:>9.1}",
        "ledger, kB a photo",
        std::fs::metadata(&database)?.len() as f64 / f64::from(PHOTOS) / 1e3
    );
    Ok(())
}

/// Something with edges, slopes and grain, as of a camera.
fn drawn(number: u32) -> Result<Vec<u8>> {
    let mut grain = number;
    let pixels = RgbImage::from_fn(SIZE.0, SIZE.1, |x, y| {
        grain = grain.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let noise = (grain >> 28) as u8;
        let stripe = if (x / 97 + y / 61 + number).is_multiple_of(3) { 60 } else { 0 };
        Rgb([(x / 20) as u8, (y / 15) as u8, 90].map(|of| (of / 2).saturating_add(stripe).saturating_add(noise)))
    });
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, 92).encode_image(&pixels)?;
    Ok(jpeg)
}

async fn begun(bench: &Bench) -> Result<Uuid> {
    let command = Command::NewJob { order: "F-40".into(), vehicle: String::new(), details: Details::default() };
    match bench.ask(Ask::Do { command }).await {
        Reply::Done => {}
        other => bail!("{other:?}"),
    }
    match bench.ask(Ask::Jobs { search: String::new(), open: false, skip: 0, limit: 1 }).await {
        Reply::Jobs { lines, .. } => Ok(lines.first().context("it was opened")?.job.parse()?),
        other => bail!("{other:?}"),
    }
}

async fn keep(bench: &Bench, job: Uuid, picture: &[u8]) -> Result<Duration> {
    let picture = STANDARD.encode(picture);
    let begun = Instant::now();
    match bench.ask(Ask::KeepPhoto { job, step: None, picture }).await {
        Reply::Done => Ok(begun.elapsed()),
        other => bail!("{other:?}"),
    }
}

/// How long the bench takes for the list of jobs, asked again and again until `work` is done.
async fn asked_while(bench: &Bench, work: impl Future<Output = ()>) -> Result<Vec<Duration>> {
    let is_over = AtomicBool::new(false);
    let mut waits = Vec::new();
    let asking = async {
        while !is_over.load(Ordering::Relaxed) {
            let begun = Instant::now();
            bench.ask(Ask::Jobs { search: String::new(), open: false, skip: 0, limit: 30 }).await;
            waits.push(begun.elapsed());
            tokio::time::sleep(EVERY).await;
        }
    };
    let working = async {
        work.await;
        is_over.store(true, Ordering::Relaxed);
    };
    tokio::join!(asking, working);
    Ok(waits)
}

/// Decoded, made smaller and encoded again, with nothing of ours.
fn bare(jpeg: &[u8]) -> Result<Duration> {
    let begun = Instant::now();
    let small = image::load_from_memory(jpeg)?.thumbnail(KEPT, KEPT).into_rgb8();
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, QUALITY).encode_image(&small)?;
    black_box(out);
    Ok(begun.elapsed())
}

fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn middle(times: &[Duration]) -> f64 {
    at(times, 50)
}

fn at(times: &[Duration], percent: usize) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort();
    sorted
        .get((sorted.len() * percent / 100).min(sorted.len().saturating_sub(1)))
        .map_or(f64::NAN, |t| milliseconds(*t))
}

fn tell(name: &str, times: &[Duration]) {
    let (p50, p99, most) = (middle(times), at(times, 99), at(times, 100));
    println!("{name:<28}{p50:>9.1}{p99:>9.1}{most:>9.1}   of {}", times.len());
}
