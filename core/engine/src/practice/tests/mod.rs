mod bench;
mod beside;
mod hands;
mod parts;

use super::{MeterModel, PartModel, Place, PracticeBench, PracticeWish};
use evenwire_core::meter::{Decoder, FrameError, Reading, Shown, built_in, choose};
use evenwire_core::settle::{Contact, Settler, Touch};
use evenwire_core::unit::Millis;

/// The clip places of a conductor: the built-in and random parts number cavities like conductors.
fn ends(index: usize) -> (Place, Place) {
    let cavity = u8::try_from(index + 1).unwrap();
    (Place { connector: 0, cavity }, Place { connector: 1, cavity })
}

/// A bench watched as the program watches a meter: from bytes on.
struct Watched {
    bench: PracticeBench,
    decoder: Decoder,
    settler: Settler,
    readings: Vec<Reading>,
    errors: Vec<FrameError>,
}

impl Watched {
    fn new(part: PartModel, meter: MeterModel, seed: u64) -> Watched {
        let bench = PracticeBench::new(part, meter, seed);
        let choice = choose(&bench.offer(), &built_in()).expect("the practice meter can be read");
        let period = Some(Millis(u64::from(bench.meter().period_ms)));
        let decoder = choice.decoder(1, None).unwrap();
        Watched { bench, decoder, settler: Settler::new(period), readings: Vec::new(), errors: Vec::new() }
    }

    /// Lets `ms` pass and gives the touches that were taken.
    fn wait(&mut self, ms: u64) -> Vec<Touch> {
        let until = Millis(self.bench.now().0 + ms);
        let mut touches = Vec::new();
        for frame in self.bench.step(until) {
            for result in self.decoder.push(&frame.bytes, frame.at) {
                match result {
                    Ok(reading) => {
                        self.readings.push(reading);
                        if let Some(Contact::Taken(touch)) = self.settler.push(reading) {
                            touches.push(touch);
                        }
                    }
                    Err(error) => self.errors.push(error),
                }
            }
        }
        touches
    }

    fn clip(&mut self, index: usize) {
        let (from, to) = ends(index);
        self.bench.clip(from, to).expect("an open plug");
    }

    fn announce(&mut self, index: usize) {
        let (from, to) = ends(index);
        self.bench.wish(PracticeWish::Announced { from, to }).expect("an open plug");
    }

    fn over_ranges(&self) -> usize {
        self.readings.iter().filter(|r| r.shown == Shown::OverRange).count()
    }

    fn values(&self) -> Vec<f64> {
        let value = |r: &Reading| if let Shown::Value(q) = r.shown { Some(q.to_f64()) } else { None };
        self.readings.iter().filter_map(value).collect()
    }
}

fn middle(touch: &Touch) -> f64 {
    touch.middle().expect("a touch with readings").to_f64()
}

fn first_practice() -> PartModel {
    PartModel::first_practice()
}
